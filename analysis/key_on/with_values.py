"""What has to be known of a key-on log with the values issued anew by it, as findings."""

from collections.abc import Iterable, Mapping

import numpy as np

from analysis.key_on.car import hindrances
from analysis.key_on.opening import HOLES, REFERENCE_SHARED, withholding
from analysis.key_on.results import KeyOnFindings
from analysis.model.finding import Finding, Value
from analysis.pedal.dead_band import stated
from analysis.pedal.of_its_kind import marks_of
from analysis.pedal.warmth_line import TEMPERATURE


def said_with_values(findings: KeyOnFindings, log: str) -> tuple[Finding, ...]:
    """Return what has to be known with the values issued anew by this log; log: its name."""
    of: dict[str, Value] = {"log": log}
    result = [Finding("log in the values", 1, "log", values={
        **of, "contactor": findings.contactor})]
    if findings.noisy and findings.verdict.applied is not True:
        result.insert(0, Finding("log too noisy", 1, "log", values={
            **of, "starts": starts_of(findings, findings.noisy)}))
    if findings.verdict.applied is True:
        result.insert(0, Finding("log passed the start of travel", 1, "log", values={
            **of, "starts": passed_starts(findings)}))
    if findings.unread:
        result.append(Finding("log not read all the time", 1, "log", values={
            **of, "unread": _unread(findings)}))
    result += [Finding("moves with warmth", 1, "pedal", values={**of, **warmth})
               for warmth in warmth_of(findings)]
    result += [Finding(f.code, 1, f.subject, values={
        **f.values, **of, "of_track": f.channel, "at_s": f.time_s})
        for f in findings.found if f.gravity > 1 or f.code in (HOLES, REFERENCE_SHARED)]
    result += [Finding("brake with pedal in the log", 1, "log", values={**of, **vars(event)})
               for event in findings.brake_events]
    return tuple(result)


def starts_of(findings: KeyOnFindings, columns: Iterable[str]) -> tuple[Value, ...]:
    """Return (column, volts, direction) of the starts of travel that tracks were judged by."""
    return tuple((c, findings.verdict.tracks[c].start_of_travel_volts,
                  findings.tracks[c].direction) for c in columns)


def passed_starts(findings: KeyOnFindings) -> tuple[Value, ...]:
    """Return (column, volts, direction) of the starts of travel that readings passed."""
    return starts_of(findings, (t.column for t in findings.verdict.tracks.values()
                                if t.applications))


def allowance_of(findings: KeyOnFindings) -> dict[str, Value]:
    """Return what counts for what the car adds, on what ground, as values.

    car: (column, volts, basis, key-ons) of what counts. hindered: codes of what keeps a smaller
    bound from counting. starts: (column, volts) issued anew; without_start: a track that has none.
    withheld: the code of the finding with which nothing is taken from the log, withheld_track its
    track. basis: why there is no bound, None without a track.
    """
    withheld = withholding(findings.found)
    hindered = hindrances(findings.recording, findings.contactor, findings.unread, findings.found,
                          findings.verdict.applied)
    issued = findings.dead_bands if findings.issued else {}
    known = {n: np.isfinite(b.start_of_travel_volts) for n, b in issued.items()}
    worst = next((t for t in findings.tracks.values() if not np.isfinite(t.lift_bound_volts)),
                 None)
    return {
        **marks_of(findings.recording),
        "assumed_volts": findings.parameters.car_allowance_volts,
        "swept": findings.swept is not None, "issued": findings.issued,
        "starts": tuple((n, stated(b)[1]) for n, b in issued.items() if known[n]),
        "without_start": next((b.column for n, b in issued.items() if not known[n]), None),
        "car": tuple((n, c.volts, c.basis, c.key_ons) for n, c in findings.car.items()),
        "key_ons": findings.more_cycles[0].logged, "hindered": hindered,
        "unread": _unread(findings),
        "withheld": withheld[0].code if withheld else None,
        "withheld_track": withheld[0].channel if withheld else None,
        "furthest_volts": max((t.excursion_volts for t in findings.tracks.values()
                               if np.isfinite(t.excursion_volts)), default=0.0),
        "basis": worst.lift_basis if worst else None}


def _unread(findings: KeyOnFindings) -> tuple[Value, ...]:
    """Return (column, seconds, first_s, by_supply) of the tracks not read all the time."""
    return tuple((c, u.seconds, u.first_s, u.by_supply) for c, u in findings.unread.items())


def warmth_of(findings: KeyOnFindings) -> tuple[Mapping[str, Value], ...]:
    """Return, of each track that warmth moves by more than the budget holds, how far.

    volts, low_volts, high_volts: a degree, at `confidence`. span_kelvin: between coldest and
    hottest use. held_volts: what the dead band holds for it. ppm_per_kelvin: what it should.
    """
    parameters, nominal = findings.parameters, findings.recording.nominal_volts
    result: list[Mapping[str, Value]] = []
    for track in findings.tracks.values():
        slope = track.per_degree
        if slope is None or not slope.low * slope.high > 0:
            continue
        ppm = 1e6 * abs(slope.value) / nominal
        held_ppm = _held_ppm(findings, track.column)
        if ppm <= held_ppm:
            continue
        span = parameters.temperature_span_kelvin
        result.append({
            "track": track.column, "volts": slope.value, "low_volts": slope.low,
            "high_volts": slope.high, "confidence": slope.confidence, "span_kelvin": span,
            "held_volts": 1e-6 * held_ppm * span * nominal,
            "ppm_per_kelvin": float(np.ceil(ppm))})
    return tuple(result)


def _held_ppm(findings: KeyOnFindings, column: str) -> float:
    """Return the drift that the dead band issued with a log holds, ppm per kelvin."""
    band = findings.dead_bands.get(column)
    item = None if band is None else next(
        (i for i in band.items if i.name == TEMPERATURE), None)
    held = None if item is None else item.why.values.get("ppm_per_kelvin")
    return float(held) if isinstance(held, int | float) else (
        findings.parameters.track_ppm_per_kelvin)
