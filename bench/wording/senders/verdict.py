"""What is said of a calibration: good enough, enough points, moved since last time, by code."""

from collections.abc import Mapping

from analysis.model.number_format import rounded_pair
from analysis.senders.calibration import Change, MeterSpec, Verdict
from bench.wording.face import TERMINAL, Face, Words
from bench.wording.reasons import in_words

WORDS: Mapping[str, str | Words] = {
    # Why a verdict is withheld, or what would tell.
    "too few points": "not enough: {points} of at least {least} points",
    "table proves nothing":
        "not enough: a curve with as many pieces as points cannot prove itself; take at least "
        "{least} of the {points} points again",
    "too few levels": lambda v, face: (
        f"not enough: the {v['points']} points lie at {v['levels']} "
        f"{'level' if v['levels'] == 1 else 'levels'}; set at least {v['least']}, further apart "
        "than the meter may be off"),
    "its own hysteresis makes the doubt":
        "the sender's own hysteresis of {hysteresis:.2g} {unit} is more than the meter may be off "
        "({meter_limit:.2g}): neither more points nor a better meter would tell",
    "more points would tell": "more points would tell",
    "better meter would tell": "a better meter would tell",
    # Which point to take next.
    "end not covered": "the {end} end is not covered: take a point near {at:.4g} {unit}",
    "further point wanted":
        "{points} of at least {least} points; next take one near {at:.4g} {unit}",
    "interval too wide":
        "the interval ±{half_width:.2g} {unit} is more than a third of the deviation you allow "
        "({tolerance:.3g} {unit}): take more points at both ends",
    "meter limits the interval":
        "enough points; the meter limits the interval to ±{half_width:.2g} {unit}, more than a "
        "third of the deviation you allow ({tolerance:.3g} {unit}): more points will not help, a "
        "better meter would",
    "enough points": "enough: {points} points over {low:.4g} to {high:.4g} {unit}",
}


def verdict_line(verdict: Verdict, face: Face = TERMINAL) -> str:
    """Return pass, fail or cannot tell, the place that decided it, and why it is open."""
    head = f"{verdict.what}: {verdict.result}"
    why = f"; {in_words(verdict.why, face)}" if verdict.why is not None else ""
    if verdict.asked:
        return f"{head}{why}"
    unit = verdict.unit
    off, doubt = rounded_pair(verdict.deviation, verdict.half_width, signed=True)
    return (f"{head}; at {verdict.at:.4g} {unit} it is off by {off} ± {doubt} {unit} (95 %), "
            f"allowed ±{verdict.tolerance:.3g} {unit}{why}")


def change_line(change: Change) -> str:
    """Return how far a channel moved between two calibrations."""
    moved, doubt = rounded_pair(change.difference, change.half_width, signed=True)
    words = "moved" if change.real else "did not move by more than the uncertainty"
    return (f"since last time it {words}: {moved} ± {doubt} {change.unit} at {change.after:.4g} "
            f"{change.unit}")


def meter_text(meter: MeterSpec) -> str:
    """Return what a meter promises as a leaflet prints it."""
    parts = [f"{meter.percent:g} % of reading"] if meter.percent else []
    if meter.digits:
        parts.append(f"{meter.digits:g} {'digit' if meter.digits == 1 else 'digits'}")
    if meter.absolute:
        parts.append(f"{meter.absolute:.4g} in the unit shown")
    promise = f"±({' + '.join(parts)})" if parts else "taken as exact"
    return promise + (f", resolution {meter.resolution:g}" if meter.resolution else "")
