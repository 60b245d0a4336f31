"""What it all means: findings as data, the gravest first.

Their sentences stand in bench/wording/sweep.py.
"""

from collections.abc import Iterator, Mapping

import numpy as np

from analysis.evidence.sweep import subject_of
from analysis.model.finding import Finding, Reason, SweepCode, Value, code_of
from analysis.parameters import Parameters
from analysis.pedal.dead_band import CAR, DeadBand, stated
from analysis.pedal.faults import Fault
from analysis.pedal.faults.returns import ReturnTime, return_limit
from analysis.pedal.pair import PairFindings
from analysis.pedal.relations import relation_named
from analysis.pedal.rest_direction import OF_THE_REST
from analysis.pedal.settings import short_of_stop
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.withhold_levels import promise_values

OFF_PERCENT = 1.0
# Play from here on is told (common practice, no source).
PLAY_PERCENT = 1.0


def found(code: SweepCode, gravity: int, channel: str | None = None,
           values: Mapping[str, Value] | None = None, why: Reason | None = None) -> Finding:
    """Return a finding with the subject that its code speaks of, and its cause where one is known.

    why: goes into the values too, for its sentence.
    """
    told = dict(values or {}) | ({} if why is None else {"why": why})
    return Finding(code, gravity, subject_of(code, channel), channel=channel, values=told,
                   causes=() if why is None else (why.code,))


def verdict(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
            faults: tuple[Fault, ...], bands: Mapping[str, DeadBand],
            returns: tuple[ReturnTime, ...], parameters: Parameters,
            doubt: Reason | None, short: Reason | None = None) -> tuple[Finding, ...]:
    """Return what it means, the gravest first.

    returns: of every release. doubt: why no levels can be given, or None. short: how much more must
    be swept before any value can be given, or None; what else is a guess then stays unsaid.
    """
    result: list[Finding] = []
    if doubt is None and short is not None:
        grave = _of_faults(faults, 3)
        return tuple(sorted((*grave, found("not enough", 2, why=short), *_of_faults(faults, 2),
                             *_of_faults(faults, 1)), key=lambda s: -s.gravity))
    if doubt is not None:
        result.append(found("rest end not known" if doubt.code in OF_THE_REST else "doubt", 3,
                            why=doubt))
        if any(_says(fault.why, doubt) for fault in faults):
            # The doubt is itself the fault, and what else was seen only follows from it.
            return (*result, *_of_faults(faults, 1))
    result += _of_faults(faults, 3)
    result += withheld(bands, doubt, parameters)
    result += _of_faults(faults, 2)
    result += _at_rest(tracks, pair, bands, parameters)
    result += _made_so(tracks, pair, parameters)
    if play_of(pair) > 0 and not play_explains(tracks, pair):
        result.append(found("play", 1, values={"play_percent": play_of(pair)}))
    result += _to_be_known(tracks, bands)
    result += _stated(bands, parameters)
    result += _of_the_pair(pair)
    if not any(r.quick for r in returns):
        quickest = min((r.seconds for r in returns if r.seconds == r.seconds), default=None)
        result.append(found("no lift-off", 1, values={
            "quickest_s": quickest, "limit_s": return_limit(parameters)}))
    result += _of_faults(faults, 1)
    return tuple(sorted(result, key=lambda s: -s.gravity))


def _says(why: Reason | None, doubt: Reason) -> bool:
    """Return whether a fault's reason says what the doubt does; it may carry more values."""
    return why is not None and why.code == doubt.code and all(
        why.values.get(name) == value for name, value in doubt.values.items())


def withheld(bands: Mapping[str, DeadBand], doubt: Reason | None,
             parameters: Parameters) -> Iterator[Finding]:
    """Yield which dead bands make no promise, and which cost more than is accepted."""
    accepted = parameters.allowed_lost_travel_percent
    for name, band in bands.items():
        if band.weak is not None:
            if band.weak != doubt:
                yield found(band.weak_code, 2, name, why=band.weak)
        elif band.lost_travel_percent > accepted:
            largest = max(band.items, key=lambda i: i.volts)
            # What more lift-offs would bring within what is accepted is no fault of the pedal.
            would_do = band.more_lost_travel_percent <= accepted
            yield found("costly dead band", 1 if would_do else 2, name, {
                "more_lift_offs": band.more_lift_offs if would_do else 0,
                "then_percent": band.more_lost_travel_percent if would_do else None,
                "lost_travel_percent": band.lost_travel_percent, "accepted_percent": accepted,
                "largest": largest.name, "largest_volts": largest.volts,
                "largest_basis": largest.basis})


def _at_rest(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
             bands: Mapping[str, DeadBand], parameters: Parameters) -> Iterator[Finding]:
    """Yield which of two like tracks rests further towards pressed."""
    off = off_at_rest(tracks, pair)
    if off is None:
        return
    column, other, volts = off
    cure = ("fasten" if play_explains(tracks, pair) else
            "repair first" if bands[column].weak is not None else
            "own values" if parameters.pedal_kind.startswith("hall") else "turn or trim")
    yield found("off at rest", 2, column, {
        "off_volts": volts, "off_percent": 100 * volts / tracks[column].span.value,
        "other": other, "play_percent": play_of(pair), "cure": cure})


def _to_be_known(tracks: Mapping[str, TrackFindings],
                 bands: Mapping[str, DeadBand]) -> Iterator[Finding]:
    """Yield what has to be known of each track before its values are entered."""
    for name, band in bands.items():
        if band.weak is None and any(i.name == CAR and i.volts <= 0 < band.total_volts
                                     and i.basis == "stated" for i in band.items):
            yield found("nothing allowed for the car", 1, name)
    for name, track in tracks.items():
        if track.hum is not None:
            yield found("hum", 1, name, {
                "hertz": track.hum.hertz, "amplitude_volts": track.hum.amplitude_volts,
                "near": track.hum.source})
    short = next((why for why in map(short_of_stop, tracks.values()) if why is not None), None)
    if short is not None:
        yield found("short of the stop", 1, why=short)


def _stated(bands: Mapping[str, DeadBand], parameters: Parameters) -> Iterator[Finding]:
    """Yield the dead bands that keep their promise at a price that is accepted."""
    for name, band in bands.items():
        if band.weak is None and band.lost_travel_percent <= parameters.allowed_lost_travel_percent:
            yield found("dead band stated", 0, name, {
                "start_of_travel_volts": stated(band)[1], **promise_values(band)})


def _of_the_pair(pair: PairFindings | None) -> Iterator[Finding]:
    """Yield what was measured of the two tracks together, or why nothing was."""
    if pair is None:
        return
    names: dict[str, Value] = {"first": pair.first, "second": pair.second}
    if not np.isfinite(pair.gain.value):
        yield found("not compared", 2, values={**names, "along": False})
    elif not np.isfinite(pair.mismatch_max_percent.value):
        yield found("not compared", 1, values={**names, "along": True})
    else:
        yield found("pair measured", 0, values={
            **names, "gain": pair.gain.value, "offset_volts": pair.offset_volts.value,
            "relation": pair.relation, "mismatch_max_percent": pair.mismatch_max_percent.value,
            "mismatch_at_travel_percent": pair.mismatch_at_travel_percent})
    if not relation_named(pair.relation).short_shows:
        yield found("shared short unseen", 0)


def _made_so(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
             parameters: Parameters) -> list[Finding]:
    """Return what has to be asked of a pair that may be made so, or may have one track off.

    Nothing where the user gave targets for it: that is the answer.
    """
    if pair is None or not np.isfinite(pair.gain.value) or (
            {pair.first, pair.second} & set(parameters.target_rest_volts)):
        return []
    asks = relation_named(pair.relation).asks
    first, second = tracks[pair.first], tracks[pair.second]
    if asks == "perhaps off at rest":
        return _by_its_law(first, second, pair)
    rests: dict[str, Value] = {
        "first": first.column, "second": second.column, "first_rest_volts": first.rest.value,
        "second_rest_volts": second.rest.value}
    if asks == "unusual relation":
        return [found("unusual relation", 1, values={**rests, "gain": pair.gain.value})]
    if asks != "apart all along":
        return []
    sign = 1.0 if first.direction == "rising" else -1.0
    nearer = second if sign * (second.rest.value - first.rest.value) > 0 else first
    return [found("apart all along", 1, values={
        **rests, "apart_volts": abs(second.rest.value - first.rest.value),
        "nearer": nearer.column})]


def _by_its_law(first: TrackFindings, second: TrackFindings,
                pair: PairFindings) -> list[Finding]:
    """Return where the second track would rest by the usual law of its kind, if it does not."""
    law_of = relation_named(pair.relation).law
    assert law_of is not None
    law, meant = law_of(pair.gain.value, first.rest.value, second.nominal_volts)
    off = second.rest.value - meant
    if not abs(off) >= OFF_PERCENT / 100.0 * second.span.value:
        return []
    return [found("perhaps off at rest", 1, values={
        "off_volts": off, "meant_volts": meant, "first": first.column, "second": second.column,
        "law": law, "rest_volts": second.rest.value,
        "towards_pressed": (off > 0) == (second.direction == "rising")})]


def play_of(pair: PairFindings | None) -> float:
    """Return the play between the tracks in % of travel where it is worth telling, else 0."""
    if pair is None or not pair.play_percent.value - 2 * pair.play_percent.uncertainty > 0:
        return 0.0
    return pair.play_percent.value if pair.play_percent.value >= PLAY_PERCENT else 0.0


def play_explains(tracks: Mapping[str, TrackFindings], pair: PairFindings | None) -> bool:
    """Return whether play between the tracks is enough to put one off at rest as it is."""
    off = off_at_rest(tracks, pair)
    return off is not None and play_of(pair) >= 100.0 * off[2] / tracks[off[0]].span.value


def off_at_rest(tracks: Mapping[str, TrackFindings],
                pair: PairFindings | None) -> tuple[str, str, float] | None:
    """Return which of two like tracks rests further towards pressed, the other, by how many volts.

    None when the tracks are not of the same slope, or differ at rest by less than 1 % of travel:
    then nothing is off that a dead band would not cover.
    """
    if pair is None or not relation_named(pair.relation).alike:
        return None
    first, second = tracks[pair.first], tracks[pair.second]
    sign = 1.0 if first.direction == "rising" else -1.0
    by = sign * (second.rest.value - first.rest.value)
    if abs(by) < OFF_PERCENT / 100.0 * min(first.span.value, second.span.value):
        return None
    return (second.column, first.column, by) if by > 0 else (first.column, second.column, -by)


def _of_faults(faults: tuple[Fault, ...], gravity: int) -> list[Finding]:
    """Return one finding per kind of fault and channel: the first, and how many are like it."""
    groups: dict[tuple[str, str | None], list[Fault]] = {}
    for fault in faults:
        if fault.gravity == gravity:
            groups.setdefault((fault.kind, fault.channel), []).append(fault)
    result = []
    for group in groups.values():
        first = group[0]
        code = code_of(first.kind)
        result.append(Finding(
            code, gravity, subject_of(code, first.channel), channel=first.channel,
            time_s=first.time_s, travel_percent=first.travel_percent,
            values={**first.why.values, "fault": first.why}, causes=(first.why.code,),
            times=len(group)))
    return result
