"""What a board's input range is worth: its reference as stated, and a supply at its upper end."""

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Recording

# An untrimmed internal reference is this far off at most (relative; the maker's limits of the
# 8-bit board's 1.1 V reference are 1.0 and 1.2 V: from memory). Beyond it the statement is wrong.
UNTRIMMED = 0.10
# Less is not worth a word: half of it is the step of such a measurement (common practice, no
# source).
TELLS = 0.03
# A supply that stands at the end for less of the sweep than this was knocked there.
SHARE = 0.01
# The header's key, and what it may say of what feeds the pedal.
FED_BY = ("board", "bench supply")


def reference_contradicted(supply_mv: object, reference_volts: float | None) -> Reason | None:
    """Return that a board's own supply is not the reference stated; else None.

    supply_mv: what the board says that it measured of its own supply, millivolts, text or number;
    what is no number above 0 says nothing. reference_volts: volts at full scale, as stated.
    """
    try:
        volts = float(str(supply_mv)) / 1000.0
    except ValueError:
        return None
    if reference_volts is None or not 0.0 < volts < np.inf:
        return None
    off = volts / reference_volts - 1.0
    if abs(off) <= TELLS:
        return None
    return Reason("reference contradicted", {
        "volts": volts, "reference_volts": reference_volts, "off_percent": 100 * off,
        "untrimmed": abs(off) <= UNTRIMMED})


def supply_at_end(recording: Recording) -> float:
    """Return the share of the supply's readings at the last code of its converter, 0 to 1.

    0 without a supply, or with one in volts that states no upper end.
    """
    feed = recording.supply
    if feed is None:
        return 0.0
    read = feed.readings[np.isfinite(feed.readings)]
    return float(np.mean(feed.codes.at_high(read))) if read.size else 0.0


def clipped_doubt(recording: Recording) -> Reason | None:
    """Return why no level of a sweep can be believed whose bench supply reads the end; else None.

    As far as the header's `fed_by` says that it is a bench supply.
    """
    if recording.extra.get("fed_by") != FED_BY[1] or supply_at_end(recording) <= SHARE:
        return None
    return _stands("bench supply clipped", recording)


def clipped_question(recording: Recording) -> Reason | None:
    """Return what is to be asked of a sweep whose supply stands at the end of its input; or None.

    A board that feeds the pedal from its own reference reads the end rightly: the ratio is 1.
    Any other supply may be higher than read, and only the header's `fed_by` can say which it is.
    """
    if recording.extra.get("fed_by") in FED_BY or supply_at_end(recording) <= SHARE:
        return None
    return _stands("supply clipped", recording)


def _stands(code: str, recording: Recording) -> Reason:
    assert recording.supply is not None
    return Reason(code, {"column": recording.supply.column, "share": supply_at_end(recording)})
