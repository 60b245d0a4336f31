"""A number that says how sure it is."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """Hold a value and its uncertainty, both in the same unit.

    `uncertainty`: value +- 2 of it holds the truth in 95 of 100 cases (95.45 %, as two standard
    deviations do of a normal error): one standard uncertainty (JCGM 100:2008, 2.3.1) where chance
    rules, half of the 95 % interval's half width where a limit does (JCGM 101:2008). NaN says
    that the data do not suffice to state one.
    standard_uncertainty: the standard deviation behind it, for adding up in squares; NaN where
    it is `uncertainty` itself.
    """

    value: float
    uncertainty: float
    standard_uncertainty: float = math.nan

    @property
    def standard(self) -> float:
        """Return the standard uncertainty, which adds up in squares (JCGM 100:2008, 5.1.2)."""
        given = self.standard_uncertainty
        return given if math.isfinite(given) else self.uncertainty
