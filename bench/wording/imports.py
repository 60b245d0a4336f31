"""What must still be said of a log of other origin: by code, for the command line and the window.

The command line names its option, the window the column above which, or the field in which, it
is said. Words in curly brackets are the question's values.
"""

from collections.abc import Mapping
from typing import Any

from bench.wording.face import Face

# code -> (for the terminal, for the window).
QUESTIONS: Mapping[str, tuple[str, str]] = {
    "decimal sign": (
        "{path}: {sample!r} can be a decimal or a thousands {name}; say which with --decimal , or "
        "--decimal .",
        "{sample!r} can be a decimal or a thousands {name}; pick the decimal sign below"),
    "not above 0": ("{option} is {value}; give a number above 0",
                    "{field} is {value}; give a number above 0"),
    "time too coarse, finer there": (
        "{path}: the times in {name!r} are too coarse; {finer!r} rises with every row: say --time "
        "{finer!r}",
        "the times in {name!r} are too coarse; {finer!r} rises with every row: make that the time"),
    "time too coarse": (
        "{path}: the times are too coarse, most rows share theirs with the row before; say how "
        "many rows there are a second with --rate",
        "the times are too coarse, most rows share theirs with the row before; leave the time out "
        "and state the rows a second below"),
    "unit of heading": (
        "{path}: column {name!r} is in {heading} by its heading, which is neither volts nor "
        "counts; name another with --{role}",
        "column {name!r} is in {heading} by its heading, which is neither volts nor counts; pick "
        "another for {part}, or its unit"),
    "size of counts": (
        "{path}: for counts give --full-scale (1024 for 10 bits) and --reference-volts",
        "for counts state below at how many the input is full (1024 for 10 bits) and at how many "
        "volts"),
    "no unit": (
        "{path}: the readings reach {highest:g} and have no unit; say --readings-in mV, or for "
        "counts --full-scale and --reference-volts",
        "the readings reach {highest:g} and have no unit; pick it above their columns"),
    "time not plain, one rises": (
        "it is not plain which column holds the time; {rising!r} rises with every row: say --time "
        "{rising!r} if it is, or give --rate",
        "it is not plain which column holds the time; {rising!r} rises with every row: pick it, "
        "or state the rows a second below"),
    "time not plain": (
        "it is not plain which column holds the time; say it with --time (there are {names}), or "
        "give --rate",
        "it is not plain which column holds the time; pick it, or state the rows a second below"),
    "two parts of one column": (
        "--{role} and --{other} both name {name!r}; each column has one part",
        "{name!r} is picked for two parts; each column has one"),
    "two columns of readings": (
        "two columns hold readings; if they are the tracks, say --a {one!r} --b {two!r}, if only "
        "one is a track, say --a alone",
        "two columns hold readings, {one!r} and {two!r}; pick which is track a, and track b if "
        "there is one"),
    "tracks not plain": (
        "it is not plain which columns hold the tracks; say it with --a (and --b): there are "
        "{names}",
        "it is not plain which columns hold the tracks; pick track a, and track b if there is one"),
    "time counts rows": (
        "column {name!r} only counts the rows; say how many there are a second with --rate, or its "
        "unit with --time-unit",
        "column {name!r} only counts the rows; state below how many there are a second, or pick "
        "its unit"),
    "time without unit": (
        "column {name!r} has no unit and {which} would fit (step {step:g}); say it with "
        "--time-unit",
        "column {name!r} has no unit and {which} would fit (step {step:g}); pick its unit"),
    "column not numeric": (
        "{path}: column {name!r} is not numeric, line {line} says {cell!r}; name another with "
        "--{role}",
        "column {name!r} is not numeric, line {line} says {cell!r}; pick another for {part}"),
    "column no time": (
        "column {name!r} is not a time: {cell!r} cannot be read; name another with --time",
        "column {name!r} is not a time: {cell!r} cannot be read; pick another"),
    # Notes: what was assumed.
    "step estimated": (
        "One converter step of {role} is {millivolts:.2f} mV at the sensor, estimated from the "
        "grid its readings lie on; say --step-volts if you know it.",
        "One converter step of {role} is {millivolts:.2f} mV at the sensor, estimated from the "
        "grid its readings lie on."),
    "step not known": (
        "The converter's step of {role} is not known: its readings do not show it. Say it with "
        "--step-volts, 0.0049 for 10 bits of 5 V.",
        "The converter's step of {role} is not known: its readings do not show it."),
}
DOUBLED = "two columns are picked as {part}; leave one of them out"
# What a column can be, in the window.
PARTS: Mapping[str, str] = {
    "": "leave out", "time": "time", "a": "track a", "b": "track b", "supply": "supply",
    "key": "key", "brake": "brake"}
# The fields below the table, by the name of the option's field.
FIELDS: Mapping[str, str] = {
    "rate_hz": "Rows a second, without times", "supply_volts": "Nominal supply, V",
    "full_scale": "Full at, counts", "reference_volts": "Volts at full",
    "step_volts": "One converter step, V"}


def question_words(code: str, values: Mapping[str, Any], face: Face) -> str:
    """Return the words of a question or a note for a face."""
    terminal, window = QUESTIONS[code]
    role = values.get("role", "")
    return (terminal if face.kind == "terminal" else window).format(
        **{"part": PARTS.get(str(role), role), **values})
