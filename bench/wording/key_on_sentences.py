"""A key-on log in sentences, gravest first: the verdict, its proof, the tracks, the allowance."""

import numpy as np

from analysis.key_on import strays
from analysis.key_on.opening import REST_MOVED, SUPPLY_CLIPPED
from analysis.key_on.results import Interval, KeyOnFindings, Proof, TrackKeyOn
from analysis.key_on.with_values import allowance_of, passed_starts, starts_of, warmth_of
from analysis.model.finding import USE, Finding
from analysis.pedal.dead_band import stated
from bench.wording.face import TERMINAL, Face, small
from bench.wording.key_on_allowance import allowance_line
from bench.wording.key_on_found import brake_line, log_sentence, starts_text, warmth_line
from bench.wording.key_on_reasons import common_text
from bench.wording.key_on_verdict import told_by_verdict, verdict_text
from bench.wording.limb import Limb, limb_of
from bench.wording.reasons import in_words

_UNREAL = 1e-6
_LEADING = frozenset({REST_MOVED, strays.CODE, SUPPLY_CLIPPED})


def log_sentences(findings: KeyOnFindings, face: Face = TERMINAL) -> tuple[str, ...]:
    """Return the sentences on the log that a person needs, gravest first.

    What the sweep forbids stands before them (`KeyOnFindings.forbidding`).
    """
    # What changes what every later line is worth comes first, but for what forbids driving.
    told = told_by_verdict(findings)
    untold = [f for f in findings.found if f not in told]
    lead = [log_sentence(f, face) for f in untold if _leads(f)]
    later = [log_sentence(f, face) for f in untold if f.gravity > 1 and not _leads(f)]
    result = [*lead, verdict_text(findings, face),
              *(f"{t.rstrip('.')}." for t in later)]
    if findings.verdict.applied:
        result.append(do_not_enter(findings))
    elif findings.noisy:
        result.insert(len(lead), do_not_keep(findings))
    result += [_proof(p, p.column in findings.noisy, face) for p in findings.proofs.values()]
    result += [_track(t, limb_of(findings.recording.pedal.use)) for t in findings.tracks.values()]
    result.append(common_text(findings.common, face))
    result += _supply(findings)
    result += [warmth_line(w, face) for w in warmth_of(findings)]
    result += _allowance(findings, face)
    result += [log_sentence(f, face) for f in untold if f.gravity <= 1]
    return (*result, *brake_sentences(findings))


def _leads(found: Finding) -> bool:
    """Return whether a finding says what every other line of the log is worth."""
    return found.gravity >= 3 or (found.gravity > 1 and found.code in _LEADING)


def brake_sentences(findings: KeyOnFindings) -> tuple[str, ...]:
    """Return one sentence for each time the brake was on with the pedal pressed."""
    return tuple(brake_line({**vars(event), USE: findings.recording.pedal.use})
                 for event in findings.brake_events)


def do_not_enter(findings: KeyOnFindings) -> str:
    """Return which values this log has shown to be wrong; asked for when power was applied."""
    each = starts_text(passed_starts(findings))
    if any(abs(t.rest_moved_volts) > 0 for t in findings.tracks.values()):
        instead = ("the pedal rests elsewhere than where it was swept: find out why, sweep it "
                   "again as installed, and log again")
    else:
        of = limb_of(findings.recording.pedal.use)
        instead = (f"find what lifts the reading (a ground, a lead, a {of.limb} on the "
                   f"{of.thing}), mend it, and log again{_anew(findings)}")
    return (f"Do not enter the start of travel judged here ({each}), and remove it where it is "
            f"already set: readings in this log went beyond it; {instead}.")


def do_not_keep(findings: KeyOnFindings) -> str:
    """Return which values the noise of this log passes too often; asked for when it does."""
    often = max(findings.proofs[c].rate.value for c in findings.noisy)
    hours = findings.parameters.key_on_hours
    each = starts_text(starts_of(findings, findings.noisy))
    return (f"Do not keep the start of travel judged here ({each}): the noise of this log would "
            "pass it "
            f"{rate_text(often * hours / 1000.0)} times in {hours:g} key-on hours, which are to "
            f"pass without; find what disturbs the reading, and log again{_anew(findings)}.")


def _anew(findings: KeyOnFindings) -> str:
    """Return what the values issued anew are good for: they cover what stays, at a price."""
    if not findings.issued or findings.passed or not all(
            np.isfinite(b.start_of_travel_volts) for b in findings.dead_bands.values()):
        return ""
    most = findings.parameters.allowed_lost_travel_percent
    costs = max(b.lost_travel_percent for b in findings.dead_bands.values())
    if not costs <= most:
        return (f"; a dead band over it would cost {costs:.1f} % of travel, more than the "
                f"{most:g} % accepted")
    return f"; until then enter those issued anew from this log ({starts_anew(findings)})"


def starts_anew(findings: KeyOnFindings) -> str:
    """Return the starts of travel issued anew, "" without any."""
    return ", ".join(f"{n} {stated(b)[1]:.3f} V" for n, b in findings.dead_bands.items()
                     if np.isfinite(b.start_of_travel_volts))


def millivolts(interval: Interval) -> str:
    """Return an interval as text: value and limits in mV."""
    if np.isnan(interval.value):
        return "unknown"
    if np.isnan(interval.low):
        return f"{interval.value * 1e3:+z.2f} mV"
    return (f"{interval.value * 1e3:+z.2f} mV ({interval.low * 1e3:+z.2f} to "
            f"{interval.high * 1e3:+z.2f} mV at {interval.confidence:.0%})")


def rate_text(value: float) -> str:
    """Return a rate per 1000 h as text, without false precision far below anything real."""
    if not np.isfinite(value):
        return "unknown"
    if value < _UNREAL:
        return "less than a millionth"
    # Never in powers of ten: two digits that count, the rest zeros.
    digits = 1 - int(np.floor(np.log10(value)))
    text = f"{round(value, digits):,.{max(digits, 0)}f}".replace(",", " ")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _track(track: TrackKeyOn, of: Limb) -> str:
    settle = ("settling not seen to its end" if np.isnan(track.settling_s)
              else f"settled within {max(track.settling_s, 0.01):.2f} s")
    far = f"furthest {of.towards} {_plain(track.excursion_volts, 1)}"
    if track.excursion_volts < 0:
        far = f"never beyond the rest before it, {_plain(-track.excursion_volts, 1)} short at least"
    return (f"Track {track.column} at key-on: shift {millivolts(track.shift)}, {settle}; {far}; "
            f"noise {_plain(track.noise_before_volts, 2)} before, "
            f"{_plain(track.noise_after_volts, 2)} after.")


def _plain(volts: float, digits: int) -> str:
    return "unknown" if np.isnan(volts) else f"{volts * 1e3:.{digits}f} mV"


def _proof(proof: Proof, fails: bool, face: Face) -> str:
    events = "1 event" if proof.events == 1 else f"{proof.events} events"
    bound = (f"from the log alone ({events} in {proof.hours:.2f} h) at most "
             f"{rate_text(proof.free_bound_per_1000_h)} in 1000 h can be guaranteed")
    if not np.isfinite(proof.free_bound_per_1000_h):
        bound = "no whole stretch of settled rest was logged that could bound it"
    said = in_words(proof.why, face)
    why = small(said)
    if np.isnan(proof.level_volts):
        return f"No proof for track {proof.column}: {why}."
    if not proof.enough:
        return f"No proof for track {proof.column}: {why}; {bound}."
    often = ("fewer than once in 10^9 key-on hours" if proof.rate.high < _UNREAL else
             f"{rate_text(proof.rate.value)} times in 1000 key-on hours "
             f"({rate_text(proof.rate.low)} to {rate_text(proof.rate.high)})")
    return (f"{'No proof' if fails else 'Proof'} for track {proof.column}: noise passes start of "
            f"travel {often}, at {proof.rate.confidence:.0%} confidence; {bound}. {said}.")


def _supply(findings: KeyOnFindings) -> list[str]:
    sags = [(c.supply_before_volts - c.supply_after_volts, c) for c in findings.cycles
            if np.isfinite(c.supply_before_volts) and np.isfinite(c.supply_after_volts)]
    if not sags:
        return []
    _, cycle = max(sags, key=lambda s: s[0])
    text = (f"Supply at key-on: {cycle.supply_before_volts:.3f} V to "
            f"{cycle.supply_after_volts:.3f} V, lowest {cycle.supply_lowest_volts:.3f} V.")
    for track in findings.tracks.values():
        if track.follows != "cannot say":
            words = {"ratiometric": "follows it (ratiometric)",
                     "does not follow": "does not follow it, unless a lift of its own makes up for "
                     "the sag: its volts stated at nominal supply move although the sensor's do "
                     "not; find out what feeds it",
                     "partly": "follows it in part only"}[track.follows]
            text += f" Track {track.column} {words}."
    return [text]


def allowance(findings: KeyOnFindings, face: Face = TERMINAL) -> str:
    """Return what counts for what the car adds, on what ground, and what to do next."""
    return allowance_line(allowance_of(findings), face)


def _allowance(findings: KeyOnFindings, face: Face) -> list[str]:
    result = [allowance(findings, face)]
    needed = findings.more_cycles[1]
    if needed.missing:
        result.append(f"For a promise without any assumption ({needed.coverage:.0%} of key-ons "
                      f"below the largest lift seen, {needed.confidence:.0%} confidence) log "
                      f"{needed.missing} more key-ons ({needed.logged} of {needed.needed}).")
    return result
