"""The findings in plain sentences, gravest first."""

from collections.abc import Mapping

import numpy as np

from analysis.deadband import stated
from analysis.keyon.car import NEXT, judged_starts
from analysis.keyon.results import Interval, KeyOnFindings, Proof, TrackKeyOn

_UNREAL = 1e-6


def say(findings: KeyOnFindings) -> tuple[str, ...]:
    """Return the sentences that a person needs, gravest first."""
    result = [*findings.forbidding, findings.verdict.text]
    if findings.verdict.applied:
        result.append(do_not_enter(findings))
    result += [_proof(p) for p in findings.proofs.values()]
    result += [_track(t) for t in findings.tracks.values()]
    result.append(findings.common.text)
    result += _supply(findings)
    result += _allowance(findings)
    return (*result, *brake_sentences(findings))


def brake_sentences(findings: KeyOnFindings) -> tuple[str, ...]:
    """Return one sentence for each time the brake was on with the pedal pressed."""
    return tuple(
        f"Brake on with the pedal at {event.peak_percent:.0f} % from {event.start_s:.1f} s: "
        f"power is to stay off until {event.end_s:.1f} s (25 % / 5 %, Formula SAE EV.4.7)."
        for event in findings.brake_events)


def moved_notes(tracks: Mapping[str, TrackKeyOn], carried: bool) -> list[str]:
    """Return a note for each track that rests elsewhere than in the sweep with the key off.

    carried: whether an allowance that holds the way is issued.
    """
    result = []
    for track in tracks.values():
        moved = track.rest_moved_volts
        if not abs(moved) > 0:
            continue
        if moved < 0:
            what = "a start of travel from that sweep costs more travel than it says"
        elif carried:
            what = "that is in the allowance above"
        else:
            what = ("no allowance holds that yet, so do not enter the start of travel of that "
                    "sweep")
        way = "further towards pressed" if moved > 0 else "further from pressed"
        result.append(
            f"With the key off track {track.column} rests {abs(moved) * 1e3:.1f} mV {way} than in "
            f"the sweep, more than its returns there differ by; {what}. Find out why (how the "
            "pedal is mounted, its cable, its feed, or another pedal), and sweep it again as it "
            "sits.")
    return result


def do_not_enter(findings: KeyOnFindings) -> str:
    """Return which values this log has shown to be wrong; asked for when power was applied."""
    each = judged_starts(findings)
    if any(t.rest_moved_volts > 0 for t in findings.tracks.values()):
        instead = ("the pedal rests elsewhere than where it was swept: find out why, sweep it as "
                   "it sits, and log again")
    elif findings.issued and not findings.passed:
        instead = "enter those issued anew here instead"
    else:
        instead = "find what lifts the reading, and log again"
    return (f"Do not enter the start of travel judged here ({each}), and take it out where it is "
            f"entered: readings of this very log passed it; {instead}.")


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


def _proof(proof: Proof) -> str:
    events = "1 event" if proof.events == 1 else f"{proof.events} events"
    bound = (f"without any assumption the log bounds it at "
             f"{rate_text(proof.free_bound_per_1000_h)} in 1000 h ({events} in "
             f"{proof.hours:.2f} h)")
    if not np.isfinite(proof.free_bound_per_1000_h):
        bound = "no settled rest was logged that could bound it"
    why = f"{proof.why[0].lower()}{proof.why[1:]}"
    if np.isnan(proof.level_volts):
        return f"No proof for track {proof.column}: {why}."
    if not proof.enough:
        return f"No proof for track {proof.column}: {why}; {bound}."
    often = ("less than once in a thousand million key-on hours" if proof.rate.high < _UNREAL else
             f"{rate_text(proof.rate.value)} times in 1000 key-on hours "
             f"({rate_text(proof.rate.low)} to {rate_text(proof.rate.high)})")
    return (f"Proof for track {proof.column}: noise passes start of travel {often}, at "
            f"{proof.rate.confidence:.0%} confidence; {bound}. {proof.why}.")


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
    assumed = f"{findings.wishes.car_allowance_volts * 1e3:.1f} mV"
    after = "give the pedal's sweep to have the settings issued anew with that"
    if findings.issued:
        starts = ", ".join(f"{n} {stated(b)[1]:.3f} V" for n, b in findings.dead_bands.items()
                           if np.isfinite(b.start_of_travel_volts))
        after = "the settings are issued anew with that" + (
            f", start of travel {starts}" if starts else "")
    if findings.car and findings.contactor == "closed":
        each = ", ".join(f"{n} {c.volts * 1e3:.1f} mV" for n, c in findings.car.items())
        return (f"Measured allowance for the car, contactor closed: {each}, instead of the "
                f"assumed {assumed}; {after}.")
    if findings.car:
        each = ", ".join(f"{n} {c.volts * 1e3:.1f} mV ({c.basis})"
                         for n, c in findings.car.items())
        word = ("stayed open at these key-ons" if findings.contactor == "open" else
                "was not stated to close at these key-ons")
        return (f"The contactor {word}, so what it adds when it closes may not be in this "
                f"log: the larger of the measured and the assumed allowance of {assumed} "
                f"counts: {each}; {after}. Next: {NEXT}.")
    worst = next((t for t in findings.tracks.values() if not np.isfinite(t.lift_bound_volts)),
                 None)
    return f"The assumed allowance stays: {worst.lift_basis if worst else 'no track was logged'}."


def _allowance(findings: KeyOnFindings) -> list[str]:
    result = [allowance(findings)]
    needed = findings.more_cycles[1]
    if needed.missing:
        result.append(f"For a promise without any assumption ({needed.coverage:.0%} of key-ons "
                      f"below the largest lift seen, {needed.confidence:.0%} confidence) log "
                      f"{needed.missing} more key-ons ({needed.logged} of {needed.needed}).")
    return result
