"""Where a job stands, on one screen, on a long one, and as JSON."""

import json
import math
from collections.abc import Mapping

from analysis.proof.outcome import Outcome
from bench.files.job_standing import CountedReturns, Proof, Proofs
from bench.wording.face import listed, millivolts
from bench.wording.job_returns import counted_words, not_counted_words, starts_words
from bench.wording.proof import (
    NOTHING_TO_ENTER,
    TITLES,
    because_words,
    box,
    change_name,
    damaged_words,
    expected_words,
    headline,
    how_power_is_seen,
    issued_words,
    key_on_words,
    lead_name,
    levels_words,
    load_words,
    state_words,
    unlisted_words,
    warm_ends_words,
    warmth_words,
    wire_words,
)

_WIDTH = 96


def proofs_text(proofs: Proofs, more: bool, following: str, first: str = "",
                whole: str = "") -> str:
    """Return where a job stands, with the next command; more: every step of every proof too.

    first: what is to be mended before that command. whole: the command that tells every step.
    """
    said = job_headline(proofs)
    lines = [said, *([f"first: {first}"] if first else []), f"next: {following}", ""]
    for proof in proofs.steps:
        line = _step_line(proof)
        # Of a long line the end of the reasons is cut; all of it stands under --more.
        lines.append(line if more or len(line) <= _WIDTH else f"{line[:_WIDTH - 1]}…")
        beside = job_lines(proofs, proof.step)
        if more or (proof.step == "entered" and proof.state != "proved"):
            lines += [f"      {line}" for line in beside]
        if more:
            lines += [f"      {line}" for line in outcome_lines(proof)]
    if proofs.damaged:
        lines += ["", f"note: {damaged_words(proofs.damaged)}"]
    if proofs.unlisted:
        lines += ["", f"note: {unlisted_words(proofs.unlisted)}"]
    if whole and not more and any(p.outcome is not None for p in proofs.steps):
        lines += ["", f"more: {whole}"]
    return "\n".join(lines) + "\n"


def _step_line(proof: Proof) -> str:
    """Return a step with its state, its date, its file and why it is no better."""
    why = because_words(proof.step, proof.because)
    rest = f": {why}" if why else ""
    file = f"  {proof.entry.file}" if proof.entry is not None and proof.entry.file else ""
    when = f"  {proof.entry.when[:10]}" if proof.entry is not None else ""
    return (f"{box(proof.state, proof.simulated)} {TITLES[proof.step]:<24} "
            f"{state_words(proof.state, proof.simulated, proof.step)}{when}{file}{rest}")


def job_headline(proofs: Proofs) -> str:
    """Return the first line of a job."""
    return headline([(p.step, p.state, p.because) for p in proofs.steps], proofs.simulated)


def job_lines(proofs: Proofs, step: str) -> list[str]:
    """Return what a job says of its values beside a step: by what drift they go, what they are."""
    warmth = proofs.warmth
    if step == "sweep" and warmth is not None:
        return [warmth_words(warmth.ppm_per_kelvin, warmth.file, warmth.span_kelvin,
                             warmth.seen_kelvin)]
    if step == "drive" and proofs.returns is not None:
        return _returns_lines(proofs.returns)
    if step == "entered" and any(proofs.of(s).state == "failed" for s in ("sweep", "key-on")):
        return [NOTHING_TO_ENTER]
    if step == "entered" and proofs.values:
        return [issued_words([(v.name, v.issued_volts) for v in proofs.values])]
    return []


def _returns_lines(counted: CountedReturns) -> list[str]:
    """Return how a drive's key-ons count toward the promise, and what that does to the values."""
    if counted.hidden_by:
        return [not_counted_words(counted.of_log, counted.hidden_by)]
    lines = [counted_words(counted.of_log, counted.cold, counted.warm, counted.least,
                           counted.stand)]
    return lines + ([starts_words(counted.before, counted.now)]
                    if counted.before != counted.now else [])


def outcome_lines(proof: Proof) -> list[str]:
    """Return every step of a proof, one line each; none where nothing was recorded."""
    lines: list[str] = []
    outcome = proof.outcome
    if outcome is None:
        return lines
    if outcome.wires is not None:
        lines.append(how_power_is_seen(outcome.wires))
        for step in outcome.wires.steps:
            lines.append(f"{step.verdict}: {change_name(step.step.kind, step.step.leads)}: "
                         f"{wire_words(step, outcome.wires.allowed_s)} ({levels_words(step)}"
                         f"{expected_words(proof.expected.get(step.step.mark, {}))})")
    if outcome.shake is not None:
        for lead in outcome.shake.leads:
            words = {"loose": f"LOOSE: {lead.losses} losses of contact, {lead.here} while it was "
                     f"shaken{', most at ' + lead.places[0] if lead.places else ''}; longest "
                     f"{1000 * lead.longest_s:.0f} ms",
                     "holds": f"holds ({lead.shaken_s:.0f} s shaken)",
                     "not shaken": (
                         f"not shaken at {listed(lead.left)}, or rows were lost there"
                         if lead.left and lead.shaken_s > 0 else
                         "not shaken, rows were lost, or its track shows nothing"),
                     }[lead.state]
            lines.append(f"{lead_name(lead.lead)}: {words}")
    for track in outcome.warmth:
        if track.volts_per_kelvin is None:
            lines.append(f"track {track.column}: too little warmth was seen, or none recorded")
        else:
            slope = track.volts_per_kelvin
            lines.append(
                f"track {track.column}: {1e6 * slope.value:+.0f} µV/K ({1e6 * slope.low:+.0f} to "
                f"{1e6 * slope.high:+.0f} at 95 %) from {track.lowest:.0f} to "
                f"{track.highest:.0f} °C, at most "
                f"{math.ceil(10 * track.ppm_per_kelvin) / 10:g} ppm/K; "
                f"{warm_ends_words(track.rest_volts, track.noise_volts)}")
    # What only a person's word says stands apart, behind what was measured.
    for load in sorted(outcome.loads, key=lambda x: x.state in ("by word", "not shown")):
        left = min((t.left_volts for t in load.tracks), default=math.nan)
        words = load_words(load.name, load.state, left)
        if load.droop is not None and load.droop.value == load.droop.value:
            words += (f"; supply {1000 * load.droop.value:+.1f} ± "
                      f"{2000 * load.droop.uncertainty:.1f} mV")
        if load.ripple is not None:
            words += (f"; ripple {millivolts(load.ripple.volts.value, 1)} at "
                      f"{load.ripple.hertz.value:.1f} Hz or an alias of it")
        lines.append(words)
    if outcome.drive is not None:
        drive = outcome.drive
        lines.append(f"times let go: {len(drive.lift_offs)}; slowest end of power after it: " + (
            "not seen" if math.isnan(drive.slowest_s) else
            f"{1000 * drive.slowest_s:.0f} ± {1000 * drive.resolution_s:.0f} ms"
            f" (allowed {1000 * drive.allowed_s:.0f} ms)"))
        lines.append(key_on_words(drive.key_ons, drive.key_ons_at_rest))
        if drive.beyond_s > 0:
            lines.append(f"beyond a limit for {1000 * drive.beyond_s:.0f} ms at "
                         f"{drive.beyond_at_s:.2f} s")
    return lines


def proofs_json(proofs: Proofs) -> str:
    """Return where a job stands as JSON: schema 1, one object for each step."""
    content = {"schema": 1, "proved": proofs.all_proved, "damaged_lines": proofs.damaged,
               "temperature": None if proofs.warmth is None else {
                   "ppm_per_kelvin": proofs.warmth.ppm_per_kelvin, "file": proofs.warmth.file,
                   "span_kelvin": proofs.warmth.span_kelvin,
                   "seen_kelvin": proofs.warmth.seen_kelvin},
               "returns": None if proofs.returns is None else _returns(proofs.returns),
               "values": [{"name": v.name, "state": v.state,
                           "issued_volts": _number(v.issued_volts),
                           "typed_volts": _number(v.typed_volts)} for v in proofs.values],
               "unlisted": list(proofs.unlisted),
               "steps": [_step(p) for p in proofs.steps]}
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _returns(counted: CountedReturns) -> dict[str, object]:
    return {"file": counted.file, "of_log": counted.of_log, "cold": counted.cold,
            "warm": counted.warm, "least": counted.least, "stand": counted.stand,
            "hidden_by": list(counted.hidden_by), "applied": counted.applied,
            "start_of_travel_before": {n: _number(v) for n, v in counted.before},
            "start_of_travel_now": {n: _number(v) for n, v in counted.now}}


def _step(proof: Proof) -> dict[str, object]:
    entry = proof.entry
    return {"step": proof.step, "state": proof.state, "because": list(proof.because),
            "file": entry.file if entry else None, "sha256": entry.sha256 if entry else None,
            "when": entry.when if entry else None, "simulated": proof.simulated,
            "details": [] if proof.outcome is None else _details(proof.outcome, proof.expected)}


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _details(outcome: Outcome,
             expected: Mapping[str, Mapping[str, float]]) -> list[dict[str, object]]:
    """Return the values behind a proof, units in the names; null where there is none."""
    result: list[dict[str, object]] = []
    if outcome.wires is not None:
        result += [{
            "change": s.step.mark, "verdict": s.verdict, "code": s.code, "off": list(s.off),
            "volts": {n: _number(v) for n, v in s.levels.items()},
            "expected_volts": {n: _number(v) for n, v in expected.get(s.step.mark, {}).items()},
            "beyond_s": s.beyond_s,
            "stopped_after_s": _number(s.stopped_after_s),
            "resolution_s": _number(s.resolution_s)} for s in outcome.wires.steps]
    if outcome.shake is not None:
        result += [{"lead": x.lead, "state": x.state, "losses": x.losses,
                    "while_shaken": x.here, "shaken_s": x.shaken_s,
                    "longest_s": x.longest_s, "places": list(x.places)}
                   for x in outcome.shake.leads]
    result += [{"track": t.column,
                "volts_per_kelvin": None if t.volts_per_kelvin is None else {
                    "value": t.volts_per_kelvin.value, "low": t.volts_per_kelvin.low,
                    "high": t.volts_per_kelvin.high},
                "lowest": _number(t.lowest), "highest": _number(t.highest),
                "rest_volts": [_number(v) for v in t.rest_volts],
                "noise_volts": [_number(v) for v in t.noise_volts]}
               for t in outcome.warmth]
    result += [{"load": x.name, "state": x.state, "shown_by": list(x.shown_by),
                "droop_volts": None if x.droop is None else _number(x.droop.value),
                "ripple_hz": None if x.ripple is None else x.ripple.hertz.value,
                "ripple_volts": None if x.ripple is None else x.ripple.volts.value,
                "left_volts": {t.column: _number(t.left_volts) for t in x.tracks}}
               for x in outcome.loads]
    if outcome.drive is not None:
        result += [{"start_s": x.start_s, "lift_off_s": x.end_s,
                    "travel_percent": x.travel_percent, "gone_s": _number(x.gone_s)}
                   for x in outcome.drive.lift_offs]
    return result

