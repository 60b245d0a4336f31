"""Why a form of curve was taken for a calibration, by code."""

from collections.abc import Mapping
from typing import cast

from analysis.model.finding import Reason
from analysis.model.number_format import chi_text
from bench.wording.face import Face, Values, Words
from bench.wording.reasons import in_words


def form_name(form: str, degree: int) -> str:
    """Return what a form of curve is called."""
    if form == "kinked":
        return "line with a kink"
    return f"polynomial of degree {degree}" if form == "polynomial" else form


def _form(v: Values) -> str:
    return form_name(v["form"], v["degree"])


def _chosen(v: Values, face: Face) -> str:
    why, simpler = (in_words(cast(Reason | None, v[name]), face) for name in ("why", "simpler"))
    return (_form(v) + (f": {why}" if why else "")
            + (f" (a simpler form does not do: {simpler})" if simpler else ""))


WORDS: Mapping[str, str | Words] = {
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
}
