"""The findings in plain sentences, gravest first."""

from collections.abc import Mapping

import numpy as np

from analysis.key_on import strays
from analysis.key_on.car import CONTACTOR_WORDS, hindrances, judged_starts, listed, start_of
from analysis.key_on.coverage_gaps import unread_text
from analysis.key_on.opening import HOLES, REFERENCE_SHARED, SUPPLY_CLIPPED, withholding
from analysis.key_on.results import Interval, KeyOnFindings, Proof, TrackKeyOn
from analysis.model.finding import Finding, KeyOnCode
from analysis.pedal.dead_band import stated

_UNREAL = 1e-6
REST_MOVED: KeyOnCode = "rest is not the sweep's"
_LEADING = frozenset({REST_MOVED, strays.CODE, SUPPLY_CLIPPED})


def say(findings: KeyOnFindings) -> tuple[str, ...]:
    """Return the sentences on the log that a person needs, gravest first.

    What the sweep forbids stands before them (`KeyOnFindings.forbidding`).
    """
    # What changes what every later line is worth comes first, but for what forbids driving.
    untold = [f for f in findings.found if f not in findings.verdict.told]
    lead = [f.text for f in untold if _leads(f)]
    later = [f.text for f in untold if f.gravity > 1 and not _leads(f)]
    result = [*lead, findings.verdict.text,
              *(f"{t.rstrip('.')}." for t in later)]
    if findings.verdict.applied:
        result.append(do_not_enter(findings))
    elif findings.noisy:
        result.insert(len(lead), do_not_keep(findings))
    result += [_proof(p, p.column in findings.noisy) for p in findings.proofs.values()]
    result += [_track(t) for t in findings.tracks.values()]
    result.append(findings.common.text)
    result += _supply(findings)
    result += warmth_sentences(findings)
    result += _allowance(findings)
    result += [f.text for f in untold if f.gravity <= 1]
    return (*result, *brake_sentences(findings))


def _leads(found: Finding) -> bool:
    """Return whether a finding says what every other line of the log is worth."""
    return found.gravity >= 3 or (found.gravity > 1 and found.code in _LEADING)


def brake_sentences(findings: KeyOnFindings) -> tuple[str, ...]:
    """Return one sentence for each time the brake was on with the pedal pressed."""
    return tuple(
        f"Brake on with the pedal at {event.peak_percent:.0f} % from {event.start_s:.1f} s: "
        f"power is to stay off until {event.end_s:.1f} s (25 % / 5 %, Formula SAE EV.4.7)."
        for event in findings.brake_events)


def moved_findings(tracks: Mapping[str, TrackKeyOn],
                   by_mark: bool = False) -> tuple[Finding, ...]:
    """Return a finding for each track that rests elsewhere than in the sweep with the key off.

    by_mark: that the key was off is known by marks only, which may be off by seconds.
    """
    marks = ", marks off by seconds" if by_mark else ""
    result = []
    for track in tracks.values():
        moved = track.rest_moved_volts
        if not abs(moved) > 0:
            continue
        way = "further towards pressed" if moved > 0 else "further from pressed"
        result.append(Finding(
            REST_MOVED, 2, "track",
            f"The rest of this log is not the sweep's: with the key off track {track.column} "
            f"rests {abs(moved) * 1e3:.1f} mV {way} than there, more than its returns there "
            "differ by. No allowance is taken from this log, and the sweep's values are not for "
            "the pedal as it sits: find out why (how it is mounted, its cable, its "
            f"feed{marks}, or another pedal), sweep it as it sits, and log again.",
            track.column, values={"rest_moved_volts": moved}))
    return tuple(result)


def do_not_enter(findings: KeyOnFindings) -> str:
    """Return which values this log has shown to be wrong; asked for when power was applied."""
    each = judged_starts(findings)
    if any(abs(t.rest_moved_volts) > 0 for t in findings.tracks.values()):
        instead = ("the pedal rests elsewhere than where it was swept: find out why, sweep it as "
                   "it sits, and log again")
    else:
        instead = (f"find what lifts the reading (a ground, a lead, a foot on the pedal), mend it, "
                   f"and log again{_anew(findings)}")
    return (f"Do not enter the start of travel judged here ({each}), and take it out where it is "
            f"entered: readings of this very log passed it; {instead}.")


def do_not_keep(findings: KeyOnFindings) -> str:
    """Return which values the noise of this log passes too often; asked for when it does."""
    often = max(findings.proofs[c].rate.value for c in findings.noisy)
    hours = findings.parameters.key_on_hours
    return (f"Do not keep the start of travel judged here "
            f"({start_of(findings, findings.noisy)}): the noise of this log would pass it "
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


def warmth_sentences(findings: KeyOnFindings) -> list[str]:
    """Return one sentence for each track that warmth moves by more than the budget holds."""
    parameters, nominal, result = findings.parameters, findings.recording.nominal_volts, []
    for track in findings.tracks.values():
        slope = track.per_degree
        if slope is None or not slope.low * slope.high > 0:
            continue
        ppm = 1e6 * abs(slope.value) / nominal
        if ppm <= parameters.track_ppm_per_kelvin:
            continue
        span = parameters.temperature_span_kelvin
        result.append(
            f"Warmth moves track {track.column} by {millivolts(slope)} a degree: over "
            f"{span:g} K that is {1e3 * span * abs(slope.value):.1f} mV, where the dead band "
            f"holds {1e-3 * parameters.track_ppm_per_kelvin * span * nominal:.1f} mV for "
            "temperature. "
            f"Find what warms it, or issue the values anew with --track-ppm {np.ceil(ppm):.0f} and "
            "the --temperature-span between coldest and hottest use.")
    return result


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


def _track(track: TrackKeyOn) -> str:
    settle = ("settling not seen to its end" if np.isnan(track.settling_s)
              else f"settled within {max(track.settling_s, 0.01):.2f} s")
    far = f"furthest towards pressed {_plain(track.excursion_volts, 1)}"
    if track.excursion_volts < 0:
        far = f"never beyond the rest before it, {_plain(-track.excursion_volts, 1)} short at least"
    return (f"Track {track.column} at key-on: shift {millivolts(track.shift)}, {settle}; {far}; "
            f"noise {_plain(track.noise_before_volts, 2)} before, "
            f"{_plain(track.noise_after_volts, 2)} after.")


def _plain(volts: float, digits: int) -> str:
    return "unknown" if np.isnan(volts) else f"{volts * 1e3:.{digits}f} mV"


def _proof(proof: Proof, fails: bool) -> str:
    events = "1 event" if proof.events == 1 else f"{proof.events} events"
    bound = (f"without any assumption the log bounds it at "
             f"{rate_text(proof.free_bound_per_1000_h)} in 1000 h ({events} in "
             f"{proof.hours:.2f} h)")
    if not np.isfinite(proof.free_bound_per_1000_h):
        bound = "no whole stretch of settled rest was logged that could bound it"
    why = f"{proof.why[0].lower()}{proof.why[1:]}"
    if np.isnan(proof.level_volts):
        return f"No proof for track {proof.column}: {why}."
    if not proof.enough:
        return f"No proof for track {proof.column}: {why}; {bound}."
    often = ("fewer than once in 10^9 key-on hours" if proof.rate.high < _UNREAL else
             f"{rate_text(proof.rate.value)} times in 1000 key-on hours "
             f"({rate_text(proof.rate.low)} to {rate_text(proof.rate.high)})")
    return (f"{'No proof' if fails else 'Proof'} for track {proof.column}: noise passes start of "
            f"travel {often}, at {proof.rate.confidence:.0%} confidence; {bound}. {proof.why}.")


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


def allowance(findings: KeyOnFindings) -> str:
    """Return what counts for what the car adds, on what ground, and what to do next."""
    assumed = f"{findings.parameters.car_allowance_volts * 1e3:.1f} mV"
    after = ("give the pedal's sweep to have the settings issued anew with that"
             if findings.swept is None else "no settings are issued anew: the sweep comes first")
    if findings.issued:
        starts = starts_anew(findings)
        after = "the settings are issued anew with that" + (
            f", start of travel {starts}" if starts else "")
        none = [b for b in findings.dead_bands.values() if not np.isfinite(b.start_of_travel_volts)]
        if none:
            after += f", and there is no start of travel for track {none[0].column}"
    hindered = hindrances(findings.recording, findings.contactor, findings.unread, findings.found,
                         findings.verdict.applied)
    if findings.car and not hindered:
        each = ", ".join(f"{n} at most {c.volts * 1e3:.1f} mV" for n, c in findings.car.items())
        return (f"Measured allowance for the car, contactor closed: {each}, a bound from "
                f"{_key_ons(findings)}, instead of the assumed {assumed}; {after}.")
    if findings.car:
        each = ", ".join(f"{n} {c.volts * 1e3:.1f} mV ({c.ground})"
                         for n, c in findings.car.items())
        reasons = listed([f"{h.here}, so {h.so}" for h in hindered])
        return (f"{reasons[0].upper()}{reasons[1:]}: the larger of the measured and the assumed "
                f"allowance of {assumed} counts, from {_key_ons(findings)}: {each}; {after}. "
                f"Next: {hindered[0].then}.")
    worst = next((t for t in findings.tracks.values() if not np.isfinite(t.lift_bound_volts)),
                 None)
    withheld = withholding(findings.found)
    if withheld:
        furthest = max((t.excursion_volts for t in findings.tracks.values()
                        if np.isfinite(t.excursion_volts)), default=0.0)
        beyond = (f"; and the assumed {assumed} do not hold either: a reading lifted by "
                  f"{furthest * 1e3:.1f} mV" if furthest > findings.parameters.car_allowance_volts
                  else f"; the assumed {assumed} stay")
        return (f"No allowance is taken from this log ({withheld[0].code}"
                f"{f', track {withheld[0].channel}' if withheld[0].channel else ''}){beyond}.")
    return f"The assumed allowance stays: {worst.lift_basis if worst else 'no track was logged'}."


def _key_ons(findings: KeyOnFindings) -> str:
    logged = findings.more_cycles[0].logged
    return "1 key-on" if logged == 1 else f"{logged} key-ons"


def _allowance(findings: KeyOnFindings) -> list[str]:
    result = [allowance(findings)]
    needed = findings.more_cycles[1]
    if needed.missing:
        result.append(f"For a promise without any assumption ({needed.coverage:.0%} of key-ons "
                      f"below the largest lift seen, {needed.confidence:.0%} confidence) log "
                      f"{needed.missing} more key-ons ({needed.logged} of {needed.needed}).")
    return result


def said_with_values(findings: KeyOnFindings, log: str) -> tuple[Finding, ...]:
    """Return what has to be known with the values issued anew by this log; log: its name."""
    result = [Finding("log in the values", 1, "log",
                      f"What the car adds was taken from the key-on log {log} (contactor at "
                      f"its key-ons: {CONTACTOR_WORDS[findings.contactor]}): log again after "
                      "any change to wiring, ground or pedal.")]
    if findings.noisy and findings.verdict.applied is not True:
        result.insert(0, Finding("log too noisy", 1, "log", (
            f"In {log} the noise would pass the start of travel of the sweep alone "
            f"({start_of(findings, findings.noisy)}): take that value out where it is entered, "
            "and find what disturbs the reading.")))
    if findings.verdict.applied is True:
        each = judged_starts(findings)
        result.insert(0, Finding("log passed the start of travel", 1, "log", (
            f"In {log} readings passed the start of travel of the sweep alone ({each}): power "
            "would have been applied. Take that value out where it is entered and find what lifts "
            "the reading; the values here lie beyond every reading of that log.")))
    if findings.unread:
        result.append(Finding("log not read all the time", 1, "log",
                              f"In {log} {unread_text(findings.unread)}."))
    result += [Finding("moves with warmth", 1, "pedal", text)
               for text in warmth_sentences(findings)]
    result += [Finding(f.code, 1, f.subject, f"{f.text.rstrip('.')}.") for f in findings.found
               if f.gravity > 1 or f.code in (HOLES, REFERENCE_SHARED)]
    result += [Finding("brake with pedal in the log", 1, "log", text)
               for text in brake_sentences(findings)]
    return tuple(result)
