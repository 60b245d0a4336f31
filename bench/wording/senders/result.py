"""What a check against a meter led to, in one large line and a word on what it proves."""

from analysis.model.number_format import rounded_pair
from analysis.senders import Divider, Sender
from analysis.senders.calibration import Calibration, Enough, Verdict
from analysis.senders.sender import straight
from bench.wording.face import WINDOW, Face
from bench.wording.reasons import in_words

THROUGH_ALL = ("The curve goes through every point, as any curve with as many pieces as points "
               "does: it proves nothing. Take more points.")
WRONG_POINT = ("One point does not fit the others: look at it first, take it again, and "
               "judge after that.")
NOT_JUDGED = "Not judged: no deviation was allowed."
NOT_ENOUGH = "Too few points to call it calibrated"
# Two standard uncertainties' place of the normal distribution at 95 %.
_K95 = 1.96


def result_line(sender: Sender, found: Calibration) -> str:
    """Return the result, what it may be off by (95 %), and what was stated.

    "1:2.007 ± 0.008, stated 1:2" for a divider; of other senders the share of what is stated.
    """
    slope, error, _, _ = straight(found)
    ratio = sender.ratio if isinstance(sender, Divider) else 1.0
    value, doubt = rounded_pair(slope * ratio, _K95 * error * ratio)
    if isinstance(sender, Divider):
        return f"1:{value} ± {doubt}, stated 1:{ratio:.4g}"
    if found.x_unit == found.unit:
        return f"{value} ± {doubt} of what was stated"
    return f"{value} ± {doubt} {found.unit} for each {found.x_unit}"


def spare_points(found: Calibration) -> int:
    """Return how many points there are beyond those that any such curve goes through."""
    curve = found.curve
    pieces = curve.knots_x.size if curve.form == "table" else curve.coefficients.size
    return int(found.points.count - pieces)


def what_it_proves(found: Calibration, enough: Enough, doubted: bool = False,
                   face: Face = WINDOW) -> str:
    """Return what the points prove of the curve, "" where they suffice.

    doubted: a point among them must be asked about first.
    """
    if doubted:
        return WRONG_POINT
    if spare_points(found) <= 0:
        return THROUGH_ALL
    return "" if enough.enough else f"{NOT_ENOUGH}: {in_words(enough.reason, face)}."


def standing(found: Calibration, enough: Enough, verdicts: tuple[Verdict, ...]) -> str:
    """Return where a checked sender stands in a few words, for the rail."""
    if spare_points(found) <= 0 or not enough.enough:
        return "too few points"
    return verdicts[-1].result if verdicts else "calibrated, not judged"
