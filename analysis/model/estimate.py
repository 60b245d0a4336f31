"""A number that says how sure it is."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """Hold a value and its standard uncertainty, both in the same unit.

    `uncertainty` is one standard uncertainty (JCGM 100:2008, 2.3.1); NaN says that the data
    do not suffice to state one.
    """

    value: float
    uncertainty: float
