"""Whether the motor had power: read from a current, voltage or speed channel of the log.

Method: with nothing changed (`as wired`) the channel shows its idle level with the pedal alone and
its level when pressed. Power is on where it stands out of the idle level by a tenth of that
difference, and by 5 robust standard deviations of the idle readings. A channel that does not show
the press as wired can show no stop either: then power was not seen, whatever comes later.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel, Recording

ROLES = ("current", "voltage")
SHARE = 0.1
SIGMAS = 5.0
# What is left of the power in the mean counts from this share on; of so many rows in a row one is
# counted, as hum and ripple of the channel repeat.
TRACE, ALIKE = 0.03, 10
# Presses of less than this are not expected to draw power (percent of travel).
LEAST_PRESS = 10.0
# Power that was off for so long has stopped (common practice, no source): a current that passes
# through zero for a row has not.
STAYS_OFF_S = 0.05
# A motor's current is gone so soon once it is cut (common practice, no source).
FALL_S = 0.04
# Of the power as wired: what is left above this is no action, below it the power was reduced.
REDUCED = 0.7


@dataclass(frozen=True)
class PowerSeen:
    """Hold what tells power on from off: the channel, its idle level (median, mean), its bound."""

    column: str
    idle: float
    mean: float
    pressed: float
    bound: float
    spread: float
    step: float
    longest_fall: int

    def on(self, readings: Array) -> np.ndarray:
        """Return where power is on, shape as given; False where the cell is blank."""
        result: np.ndarray = np.abs(readings - self.idle) > self.bound
        return result

    def left(self, readings: Array) -> bool:
        """Return whether their mean stands out of idle, though no single one may.

        By TRACE of the power as wired and by what scatter leaves in a mean of correlated rows.
        """
        known = readings[np.isfinite(readings)]
        if known.size < ALIKE:
            return False
        unsure = SIGMAS * self.spread / np.sqrt(known.size / ALIKE)
        least = max(TRACE * abs(self.pressed - self.idle), unsure, 0.25 * self.step)
        return bool(abs(np.mean(known) - self.mean) > least)

    def hidden_rows(self, readings: Array, end: int) -> int:
        """Return how many rows of a fall that ended at row `end` the channel's noise may hide.

        Where noise and not SHARE sets the bound, power is still there when it can be seen no more:
        for about as long as the seen part of its fall took.
        """
        level = abs(self.pressed - self.idle)
        if self.bound <= 1.02 * SHARE * level:
            return 0
        high = np.flatnonzero(np.abs(readings[:end] - self.idle) >= 0.5 * level)
        # A fall from a reduced level has no such row nearby; it is no longer than a full one.
        return min(end - int(high[-1]) - 1 if high.size else end, self.longest_fall)

    def share(self, readings: Array) -> float:
        """Return the usual level of these readings as a share of the power as wired."""
        if not readings.size:
            return 0.0
        return float(abs(np.nanmedian(readings) - self.idle) / abs(self.pressed - self.idle))


def power_channel(recording: Recording, column: str | None = None) -> Channel | None:
    """Return the channel that shows power: the one named, else the first current or voltage."""
    if column is not None:
        return recording.channel(column)
    return next((c for role in ROLES for c in recording.with_role(role)), None)


def power_as_wired(channel: Channel, alone: np.ndarray, pressed: np.ndarray,
                   step_s: float) -> PowerSeen | None:
    """Return what tells power on from off; None where the channel does not show the press.

    alone, pressed: shape (n,), rows of the control with the key on and the pedal alone, and pressed
    by LEAST_PRESS or more.
    """
    readings = channel.volts()
    rest, press = (readings[rows & np.isfinite(readings)] for rows in (alone, pressed))
    if rest.size < 10 or press.size < 10:
        return None
    idle = float(np.median(rest))
    spread = 1.4826 * float(np.median(np.abs(rest - idle)))
    far = np.abs(press - idle)
    level = idle + float(np.median((press - idle)[far >= np.median(far)]))
    longest_fall = max(1, round(FALL_S / step_s))
    bound = max(SHARE * abs(level - idle), SIGMAS * spread, 2.0 * channel.step_volts)
    if abs(level - idle) < 2.0 * bound:
        return None
    return PowerSeen(channel.column, idle, float(np.mean(rest)), level, bound, spread,
                     channel.step_volts, longest_fall)


def stops_at(on: np.ndarray, start: int, stays_rows: int) -> int | None:
    """Return the first row from `start` at which power goes off and stays off; None: it does not.

    on: shape (n,). Off for fewer rows than stays_rows is no stop, unless the log ends there.
    """
    off = start
    while off < on.size:
        off += int(np.argmin(on[off:])) if not on[off:].all() else on.size - off
        if off >= on.size:
            return None
        ahead = on[off: off + stays_rows]
        if not ahead.any():
            return off
        off += int(np.argmax(ahead))
    return None
