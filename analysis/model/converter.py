"""Which raw readings a converter gives, and at which of them it is at its end.

Whoever asks for the ends of a range, for its sign or for how many readings it has asks here: the
decoders of the wire, the recording, the checks for a reading at a rail, the board's check.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class CodeRange:
    """Hold what is known of a converter's raw readings; None where nobody said it.

    full_scale: the reading that would be the reference, one beyond the last; below it, and with a
        sign down to -full_scale, lie all readings.
    usable_low, usable_high: first and last reading that can be believed.
    below_zero: readings below 0 came, whatever was stated.
    """

    full_scale: float | None = None
    usable_low: float | None = None
    usable_high: float | None = None
    below_zero: bool = False

    @property
    def signed(self) -> bool:
        """Return whether it reads both ways from 0; on a wire that is two's complement."""
        return self.below_zero or (self.usable_low is not None and self.usable_low < 0)

    @property
    def least(self) -> float:
        """Return the first reading that can be believed; -inf where nothing says it."""
        if self.usable_low is not None:
            return self.usable_low
        if self.full_scale is None:
            return -np.inf
        return -self.full_scale if self.signed else 0.0

    @property
    def most(self) -> float:
        """Return the last reading that can be believed; inf where nothing says it."""
        if self.usable_high is not None:
            return self.usable_high
        return np.inf if self.full_scale is None else self.full_scale - 1.0

    @property
    def count(self) -> float:
        """Return how many readings it has from end to end; NaN without a full scale."""
        if self.full_scale is None:
            return np.nan
        return 2.0 * self.full_scale if self.signed else self.full_scale

    def outside(self, readings: ArrayLike) -> NDArray[np.bool_]:
        """Return where readings lie beyond those that can be believed, of their shape."""
        values = np.asarray(readings)
        low = -np.inf if self.usable_low is None else self.usable_low
        high = np.inf if self.usable_high is None else self.usable_high
        found: NDArray[np.bool_] = (values < low) | (values > high)
        return found

    def at_low(self, readings: ArrayLike) -> NDArray[np.bool_]:
        """Return where readings are the first one or below it, of their shape; NaN is not."""
        found: NDArray[np.bool_] = np.asarray(readings) <= self.least
        return found

    def at_high(self, readings: ArrayLike) -> NDArray[np.bool_]:
        """Return where readings are the last one or above it, of their shape; NaN is not."""
        found: NDArray[np.bool_] = np.asarray(readings) >= self.most
        return found
