"""One line of the budget of a dead band, its ground, and what a key-on log puts in the car's."""

from dataclasses import dataclass

from analysis.model.finding import Reason
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns


@dataclass(frozen=True)
class BudgetItem:
    """Hold one line of the budget: so many volts towards pressed, and on what ground.

    basis: "measured", "assumed" (a default of the parameters that nobody touched) or "stated" (by
        the user). key_ons: of how many it is a bound, 0 for what is none.
    """

    name: str
    volts: float
    basis: str
    why: Reason
    key_ons: int = 0


def ground_of(parameters: Parameters, *names: str) -> str:
    """Return "stated" when the user set all of these, "assumed" while one is a default."""
    return "stated" if set(names) <= set(parameters.changed) else "assumed"


@dataclass(frozen=True)
class CarAddition:
    """Hold what the car adds to one track as a key-on log has it, volts towards pressed.

    basis: "measured", or "assumed" where the log does not carry a smaller one. key_ons: of how
    many a measured one is a bound, 0 where nobody counted. returns: of the pedal as installed,
    None where the log cannot tell them.
    """

    volts: float
    why: str | Reason
    basis: str = "measured"
    key_ons: int = 0
    returns: CarReturns | None = None
