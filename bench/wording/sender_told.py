"""What is said of senders and of their calibrations, by code."""

from collections.abc import Mapping
from typing import cast

from analysis.model.finding import Reason
from analysis.model.number_format import chi_text
from bench.wording.face import Face, Values, Words
from bench.wording.reasons import in_words


def _form(v: Values) -> str:
    if v["form"] == "kinked":
        return "line with a kink"
    return f"polynomial of degree {v['degree']}" if v["form"] == "polynomial" else str(v["form"])


def _chosen(v: Values, face: Face) -> str:
    why, simpler = (in_words(cast(Reason | None, v[name]), face) for name in ("why", "simpler"))
    return (_form(v) + (f": {why}" if why else "")
            + (f" (a simpler form does not do: {simpler})" if simpler else ""))


def _said(value: object, face: Face) -> str:
    return in_words(cast(Reason | str, value), face)


WORDS: Mapping[str, Words] = {
    # Why a form of curve was taken.
    "form chosen": _chosen,
    "form fits": lambda v, face: (
        f"chi-squared {chi_text(v['chi_squared'])} <= {v['chi_limit']:.3g}"),
    "another form fits as well": lambda v, face: (
        f"chi-squared {chi_text(v['chi_squared'])} <= {v['chi_limit']:.3g}; a {_form(v)} fits as "
        "well, and what they differ by is counted"),
    "form does not fit": lambda v, face: (
        f"{_form(v)}: chi-squared {v['chi_squared']:.3g} > {v['chi_limit']:.3g}"),
    "bend shows": lambda v, face: "a bend shows above the scatter",
    "uncertainty from the scatter": lambda v, face: "the uncertainty was taken from the scatter",
    "points cannot contradict the form": lambda v, face: "its points cannot contradict it",
    "repeats explain the residuals": lambda v, face: (
        "the scatter between repeats at one value explains the residuals"),
    "meter explains the residuals": lambda v, face: (
        "the residuals stay inside what the meter itself may be off"),
    # Speed in a recording.
    "of a stretch": lambda v, face: f"from {v['start_s']:.1f} s: {_said(v['what'], face)}",
    "speed is another": lambda v, face: (
        f"the meter shows {v['times']:.3g} times what the stated values make: "
        + ", or ".join(_said(why, face) for why in cast(tuple[Reason | str, ...], v["whys"]))),
    "no common ratio of a speed": lambda v, face: (
        f"{v['pulses']:.3g} pulses a turn would do, or another gear; count the teeth or magnets"),
    "no speed seen": lambda v, face: (
        f"no speed was seen: {_said(v['why'], face) or 'it lasts less than a second'}"),
}
