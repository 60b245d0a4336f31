"""Why nothing can be said: the line of each error of `analysis`, by its code and for a face.

What was wrong, with the value, and what to do about it. Words in curly brackets are the error's
values; one in square brackets is a value that is stated of a sender. Those of senders,
calibrations and bounds stand in senders/refusals.py.
"""

from collections.abc import Mapping
from typing import Any

from analysis.model.errors import AnalysisError, OutOfLimits
from analysis.model.finding import Reason
from analysis.parameters import TABLE
from bench.wording.face import TERMINAL, Face
from bench.wording.parameters import name_of, refusal
from bench.wording.reasons import in_words
from bench.wording.senders import refusals as sender_refusals
from bench.wording.senders.fields import named, stated_name

# One sentence for all, or one for a terminal and one for the window and paper.
WORDS: Mapping[str, str | tuple[str, str]] = {
    "log of a rheostat":
        "a key-on log of a two-wire rheostat is not judged: in the car a resistor of the "
        "controller's own makes its volts; prove the values with the wheels off the ground",
    "log without track":
        "the log has no channel of role 'track', so there is no pedal in it; name the pedal's "
        "columns as tracks",
    "log too short":
        "the log has {rows} rows; log some seconds with the key off, turn the key on, and leave it "
        "on for 25 s",
    "time of log stands still":
        "the log's time stands still at {time_s:g} s; repair the column time_s",
    "no key-on":
        "no key-on found in {rows} rows: neither a key line, a mark 'key on', a supply that "
        "appears nor a change of the tracks shows it; log again with a key channel or mark the "
        "key-on {by_hand}",
    "no key-on, key line unclear":
        "the key wire {column} moves, but stands at no two levels; connect it behind the key "
        "switch, where it is 0 V with the key off; and no key-on found in {rows} rows: neither a "
        "key line, a mark 'key on', a supply that appears nor a change of the tracks shows it; log "
        "again with a key channel or mark the key-on {by_hand}",
    "no such channel": "no channel {column!r}; there are {channels}",
    "unknown role": "channel {column!r} has role {role!r}; use one of {roles}",
    "unknown unit": "channel {column!r} has unit {unit!r}; use \"counts\" or \"V\"",
    "counts without size":
        "channel {column!r} is in counts but its {name} is {value}; state a number above 0",
    "scale out of reason":
        "channel {column!r} has scale {scale} and offset_volts {offset_volts}; both must be "
        "finite, within {most:g}, and scale not 0",
    "nominal volts out of reason":
        "channel {column!r} has nominal_volts {nominal_volts}; state a voltage above 0",
    "reading step out of reason":
        "channel {column!r} has reading_step {reading_step}; state the volts of one converter "
        "step, above 0",
    "two channels of one name": "two channels share a name: {channels}; rename one",
    "readings without times":
        "channel {column!r} has {readings} readings for {times} times; every row needs a time",
    "row without time": "a row has no time; repair or delete that row",
    "time out of reason": "a row has the time {time_s:g} s; at most {most_s:g} s can be",
    "time runs backwards":
        "time runs backwards at row {row} ({time_s:.6f} s after {before_s:.6f} s); split the "
        "recording there",
    "time stands still":
        "all {rows} rows carry the same time ({time_s:g} s); record again, or import it and state "
        "its rate",
    "target of no track":
        "{parameter} is given for track {column!r}, but the tracks are {tracks}; name one of them",
    "target beyond supply":
        "{parameter} of track {column!r} is {volts:g} V; use a voltage between 0 and the supply of "
        "{supply_volts:g} V",
    "target beyond rheostat":
        "{parameter} of track {column!r} is {ohms:g} ohm; use ohms between 0 and {most_ohms:g}",
    "supply or angle not above 0":
        "supply {supply_volts} V and electrical angle {electrical_angle_degrees} degrees must both "
        "be above 0",
    "no reading yet": "there is no reading to compare with the target yet",
    "unknown series": "series {series!r} is not known; use {known}",
    "resistance not above 0": "resistance is {ohms} ohm; use a value above 0",
    "tracks move without a press":
        "the tracks move but no travel to a stop and back is seen; move the pedal right to its "
        "stop "
        "and let it come back, three times or more",
    "sweep without track": (
        "the recording has no channel of role \"track\"; give at least one channel that role in "
        "the file's header",
        "no input has the role track; give at least one that role on the page Wire up and sweep "
        "again, or in the file's header"),
    "sweep too short": "the recording has {rows} rows; at least 20 are needed, record again",
    "no track moved":
        "no track moved by more than 4 % of its supply; move the pedal while recording, or check "
        "that the tracks are wired to the inputs you named",
    "check too short":
        "{rows} rows came in {seconds:.1f} s; a check needs {needed_rows}: check longer, or ask "
        "the board for a higher rate",
    "map does not rise":
        "the map {points} does not rise from 0 to 100 %; give points INPUT:DEMAND, each further in "
        "both, such as 0:0,30:10,100:100",
    "resistance below 0": "resistance {one} to {other} is {ohms} ohm; use 0 or more",
    "joined by wires alone":
        "{one} and {other} are joined by wires alone; use the resistance between them",
    "node held by nothing":
        "wires alone join fixed voltages, or nothing holds a node; use the resistances between "
        "them",
    "no such pedal": "no pedal {pedal!r}; choose one of {pedals}",
    "unknown colour of noise": "noise colour {colour!r}; use white, smoothed or 1/f",
    "supply reads next to nothing":
        "the supply channel {column!r} reads {volts:.3f} V where {nominal_volts:g} V is meant; "
        "check its wire and scale, or give the channel another role",
    **sender_refusals.WORDS,
}


def refused(error: BaseException, face: Face = TERMINAL) -> str:
    """Return the line of any error for a face: in words where it carries a code, else its own."""
    if isinstance(error, OutOfLimits):
        return refusal(error, "terminal" if face.kind == "terminal" else "window")
    if not isinstance(error, AnalysisError) or error.code not in WORDS:
        return str(error)
    return line_of(error.code, error.values, face)


def line_of(code: str, values: Mapping[str, Any], face: Face = TERMINAL) -> str:
    """Return the line of a code of `WORDS` with its values, for a face."""
    words = WORDS[code]
    if not isinstance(words, str):
        words = words[face.kind != "terminal"]
    return named(words, face).format(**_shown(values, face))


def _shown(values: Mapping[str, Any], face: Face) -> dict[str, Any]:
    """Return the values as they stand in a sentence, with what each face calls things."""
    shown = {name: _listed(value, face) if isinstance(value, tuple)
             else in_words(value, face) if isinstance(value, Reason) else value
             for name, value in values.items()}
    shown["by_hand"] = face.of("with a key press", "by hand")
    shown |= {name: named(words, face)
              for name, words in sender_refusals.made_of(values).items()}
    for name in ("stated", "first", "second"):
        if name in values and "known" not in values:
            shown[name] = stated_name(values[name], face)
    if values.get("name") in TABLE:
        shown["parameter"] = name_of(values["name"],
                                     "terminal" if face.kind == "terminal" else "window")
    return shown


def _listed(values: tuple[Any, ...], face: Face) -> str:
    """Return several values in one line; reasons, each with a remedy, are parted by semicolons."""
    if any(isinstance(value, Reason) for value in values):
        return "; ".join(in_words(value, face) for value in values)
    return ", ".join(map(str, values))
