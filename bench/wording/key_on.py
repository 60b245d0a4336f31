"""The words for a key-on log's state and findings, a line each, keyed by code."""

import math
from collections.abc import Iterable, Sequence

from analysis.evidence.claim import Claim
from analysis.evidence.key_on import KNOWN, NO_POWER, SAME_PEDAL
from analysis.key_on.allowance import ENOUGH_CYCLES
from analysis.key_on.opening import HOLES, REST_MOVED
from analysis.key_on.results import KeyOnFindings
from analysis.model.finding import Finding
from bench.wording.face import TERMINAL, Face, listed
from bench.wording.key_on_allowance import brief_reason
from bench.wording.key_on_found import times_text
from bench.wording.key_on_sentences import log_sentences
from bench.wording.limb import Limb, limb_of
from bench.wording.short import short_line, shortened

# Saved volts, and share of the bound that is left, below which more key-ons are worth the time.
_WORTH_VOLTS, _WORTH_SHARE = 0.005, 0.8
MISFIT = "THE SWEEP DOES NOT FIT THIS LOG"
OPEN = "OPEN"
NOT_JUDGED = "not judged"


def power_line(findings: KeyOnFindings, claims: Iterable[Claim]) -> str:
    """Return in one sentence whether power would have come with nobody on the pedal."""
    by_claim = {c.claim: c for c in claims}
    claim, tracks, power = by_claim[NO_POWER], findings.verdict.tracks, _limb(findings).power
    if by_claim[SAME_PEDAL].state == "bad":
        passed = f"by its values {power} would have come; " if findings.verdict.applied else ""
        return (f"{MISFIT}: {passed}with the key off {_moved(findings)} than in the sweep, so "
                "nothing can be judged by it.")
    if findings.verdict.applied:
        worst = min(tracks.values(), key=lambda t: t.margin_volts)
        return (f"{power.upper()} WOULD HAVE COME with the {_limb(findings).limb} off: track "
                f"{worst.column} read up to "
                f"{-1000 * worst.margin_volts:.0f} mV beyond start of travel.")
    if claim.state == "open":
        if not tracks:
            return (f"{OPEN}: no start of travel was given to judge by; nothing says whether "
                    f"{power} would have come.")
        codes = (*claim.because, *by_claim[KNOWN].because)
        without = without_start(findings)
        reasons = dict.fromkeys(
            f"track {listed(without)} has no start of travel to judge by"
            if c == NOT_JUDGED and without else brief_reason(c, _limb(findings)) for c in codes)
        return f"{OPEN}: whether {power} would have come was not all seen: {', '.join(reasons)}."
    closest = min((t for t in tracks.values() if math.isfinite(t.margin_volts)),
                  key=lambda t: t.margin_volts, default=None)
    short = ("" if closest is None else
             f": closest, track {closest.column} stayed {1000 * closest.margin_volts:.0f} mV short "
             "of start of travel")
    # What was too short to open the verdict is told beside it, where it matters.
    brief = "".join(
        f" In {_number(f, 'places'):.0f} hole{'s' * (_number(f, 'places') != 1)} of up to "
        f"{1000 * _number(f, 'longest_s'):.0f} ms a lift would not have been seen."
        for f in findings.found if f.code == HOLES)
    return f"NO {power.upper()} WOULD HAVE COME in this log{short}.{brief}"


def _limb(findings: KeyOnFindings) -> Limb:
    return limb_of(findings.recording.pedal.use)


def _moved(findings: KeyOnFindings) -> str:
    """Return where each track rests that does not rest where the sweep has it."""
    of = _limb(findings)
    return listed([
        f"track {t.column} rests {1000 * abs(t.rest_moved_volts):.0f} mV further "
        f"{of.towards if t.rest_moved_volts > 0 else of.away}"
        for t in findings.tracks.values() if abs(t.rest_moved_volts) > 0])


def forbidding_beside(forbidding: Sequence[str], findings: KeyOnFindings,
                      face: Face = TERMINAL) -> tuple[str, ...]:
    """Return what forbids driving, then what the log shows.

    Of a sweep that does not fit the log, that comes first: what it forbids is of another state.
    """
    moved = any(f.code == REST_MOVED for f in findings.found)
    said = log_sentences(findings, face)
    first = 1 if moved else 0
    return (*said[:first], *forbidding, *said[first:])


def without_start(findings: KeyOnFindings) -> list[str]:
    """Return the tracks of a log that what it was judged by has no start of travel for."""
    judged = findings.verdict.tracks
    return [name for name in findings.tracks if name not in judged] if judged else []


def found_lines(findings: KeyOnFindings) -> list[str]:
    """Return what was found, a line each, gravest first."""
    lines: list[tuple[int, str]] = []
    for column, track in findings.verdict.tracks.items():
        if track.applications:
            first = next((e.start_s for e in findings.verdict.applications
                          if e.column == column), math.nan)
            times = times_text(track.applications)
            since = f", first at {first:.1f} s" if math.isfinite(first) else ""
            lines.append((4, f"track {column} passed start of travel {times}, "
                             f"{track.applied_s:.3g} s in all{since}"))
    if findings.brake_events:
        first = findings.brake_events[0].start_s
        lines.append((3, f"brake and {_limb(findings).thing} "
                         f"{_limb(findings).pressed} together "
                         f"{times_text(len(findings.brake_events))}, first at {first:.1f} s"))
    if findings.forbidding:
        lines.append((3, "the sweep of this pedal asks for a repair first"))
    for column, gap in findings.unread.items():
        what, missing = (("the supply of track", "missing") if gap.by_supply
                         else ("track", "not read"))
        lines.append((2, f"{what} {column} was {missing} for {gap.seconds:.1f} s with the key on, "
                         f"from {gap.first_s:.1f} s"))
    for column in findings.noisy:
        lines.append((2, f"track {column}: noise would pass start of travel more often than "
                         "accepted"))
    # That the sweep does not fit is the headline already.
    lines += [(f.gravity, short_line(f)) for f in shortened(findings.found)
              if f.code != REST_MOVED]
    if all(math.isnan(t.before_volts) for c in findings.cycles for t in c.tracks.values()):
        lines.append((1, "no rest before key-on could be read (the key feeds the pedal?): levels "
                         "are judged"))
    lines += _what_more_would_save(findings)
    return [line for _, line in sorted(lines, key=lambda each: -each[0])]


def _what_more_would_save(findings: KeyOnFindings) -> list[tuple[int, str]]:
    """Return what some more key-ons would save, where that is worth the time."""
    logged = findings.more_cycles[0].logged
    best = max(findings.tracks.values(), key=lambda t: t.lift_bound_volts
               - t.lift_bound_of_more_volts if math.isfinite(t.lift_bound_of_more_volts) else 0.0,
               default=None)
    if best is None or not math.isfinite(best.lift_bound_of_more_volts):
        return []
    now, then = best.lift_bound_volts, best.lift_bound_of_more_volts
    if now - then < _WORTH_VOLTS or then > _WORTH_SHARE * now:
        return []
    return [(0, f"{ENOUGH_CYCLES - logged} more key-ons like these would bring track "
                f"{best.column}'s {1000 * now:.0f} mV to about {1000 * then:.0f} mV")]


def _number(found: Finding, name: str) -> float:
    value = found.values[name]
    assert isinstance(value, int | float)
    return float(value)
