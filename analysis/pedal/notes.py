"""What is missing or weak in a sweep, as data; its sentences stand in bench/wording/sweep.py."""

from collections.abc import Iterator, Mapping

import numpy as np

from analysis.model.finding import Finding
from analysis.model.pedal_kind import BY_HAND
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band_weak import ADVISED_RETURNS, too_slow
from analysis.pedal.faults import Fault
from analysis.pedal.rest_wanted import wanted_at_rest
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.verdict import found
from analysis.signal.reference import clipped_question, reference_contradicted
from analysis.signal.supply import OFF, fed_share

LEAST_REST_S = 5.0
# With readings so far apart a wiper's bounce can fall between them, and a jump to a rail is not
# told from a foot (travel.at_a_rail). A loss as long as a step holds a reading, and one suffices.
BLIND_S = 0.0199
# Faults that are a loss of contact, or may be one.
LOST_CONTACT = ("dropout", "no reading", "open or short")
ENOUGH_HZ = 100.0
# A supply further off nominal than this (relative) is told (common practice, no source).
SUPPLY_OFF = 0.03
# With fewer of the tracks' readings than this share fed that is told (common practice, no source).
SUPPLY_ROWS = 0.9
# A further input that correlates with a track by more than this is a track; an idle switch, which
# knows two levels only, stays below (common practice, no source).
ALONG = 0.97


def missing(recording: Recording, tracks: Mapping[str, TrackFindings],
            faults: tuple[Fault, ...] = ()) -> tuple[Finding, ...]:
    """Return what is missing or weak: gravity 1 when the values suffer from it, else 0.

    faults: those told beside it.
    """
    return (*_of_the_file(recording, tracks, faults), *_of_the_rests(tracks),
            *_of_the_supply(recording, tracks), *_of_the_inputs(recording, tracks))


def _of_the_file(recording: Recording, tracks: Mapping[str, TrackFindings],
                 faults: tuple[Fault, ...]) -> Iterator[Finding]:
    if not recording.complete:
        yield found("cut short", 0)
    if recording.rheostat is not None:
        yield found("stated in ohms", 0, values={
            **vars(recording.rheostat)})
    if recording.pedal.use == BY_HAND:
        yield found("hand throttle", 0)
    if recording.lost_samples:
        yield found("samples lost", 0, values={"samples": recording.lost_samples})
    apart = max((t.step_s for t in tracks.values() if t.step_s >= BLIND_S), default=None)
    if apart is not None:
        yield found("rate too low", 1, values={
            "hertz": 1 / apart, "apart_s": apart, "enough_hertz": ENOUGH_HZ,
            "some_told": any(f.kind in LOST_CONTACT for f in faults)})


def _of_the_rests(tracks: Mapping[str, TrackFindings]) -> Iterator[Finding]:
    returns = min((t.rest_levels.size for t in tracks.values()), default=0)
    if returns < ADVISED_RETURNS:
        yield found("few returns", 1, values={"returns": returns, "advised": ADVISED_RETURNS})
    seconds = min((t.rest_seconds for t in tracks.values()), default=0.0)
    slow = next(filter(None, map(too_slow, tracks.values())), None)
    if seconds < LEAST_REST_S and slow is not None:
        yield found("few rest readings", 1, why=slow)
    elif seconds < LEAST_REST_S:
        yield found("short rest", 1, values={"seconds": seconds, "least_s": LEAST_REST_S})


def assumed_resistor(as_recorded: Recording, now: Recording,
                     parameters: Parameters) -> tuple[Finding, ...]:
    """Return that the resistor before a rheostat was stated nowhere: every ohm scales with it."""
    if (now.rheostat is None or "rheostat_known_ohms" in as_recorded.extra
            or parameters.rheostat_known_stated or "rheostat_known_ohms" in parameters.changed):
        return ()
    return (found("known resistor assumed", 1, values={"known_ohms": now.rheostat.known_ohms}),)


def rest_assumed(tracks: Mapping[str, TrackFindings],
                 parameters: Parameters) -> tuple[Finding, ...]:
    """Return that nothing shows which end is rest, unless the user's wanted rest says it."""
    if wanted_at_rest(tracks, parameters.target_rest_volts):
        return ()
    return (found("rest end assumed", 1, values={
        "tracks": tuple(tracks), "levels_volts": tuple(t.rest.value for t in tracks.values())}),)


def _of_the_supply(recording: Recording, tracks: Mapping[str, TrackFindings]) -> Iterator[Finding]:
    usual, nominal = recording.usual_supply_volts, recording.nominal_volts
    if recording.supply is None:
        yield found("supply not recorded", 1)
    elif nominal > 0 and SUPPLY_OFF < abs(usual / nominal - 1.0) <= OFF:
        yield found("supply off nominal", 1, values={"volts": usual, "nominal_volts": nominal})
    question = clipped_question(recording)
    if question is not None:
        yield found("supply clipped", 1, why=question)
    board = recording.extra.get("board")
    contradicted = reference_contradicted(
        board.get("supply_mv") if isinstance(board, dict) else None,
        next((c.reference_volts for c in recording.with_role("track")), None))
    if contradicted is not None:
        yield found("reference contradicted", 1, why=contradicted)
    if (share := fed_share(recording, tracks)) < SUPPLY_ROWS:
        yield found("supply read seldom", 0, values={"share": share})


def _of_the_inputs(recording: Recording, tracks: Mapping[str, TrackFindings]) -> Iterator[Finding]:
    unknown = tuple(name for name, track in tracks.items() if track.step_volts <= 0)
    if unknown:
        yield found("step not known", 1, values={"tracks": unknown})
    for name, track in tracks.items():
        if recording.channel(name).step_estimated:
            yield found("step estimated", 0, name, {"step_volts": track.step_volts})
    if len(tracks) == 1:
        yield found("one track", 1)
    for column in _overlooked(recording, tracks):
        yield found("overlooked track", 1, values={"column": column})
    for name, track in tracks.items():
        if track.full_levels.size == 0:
            yield found("no held full press", 0, name)
        if not np.isfinite(track.noise_volts):
            yield found("noise not measured", 1, name)


def _overlooked(recording: Recording, tracks: Mapping[str, TrackFindings]) -> list[str]:
    """Return the channels of role "other" that go up and down with a track, as a track would."""
    result = []
    for channel in recording.with_role("other"):
        own = channel.volts()
        for name in tracks:
            track = recording.stated_volts(recording.channel(name))
            good = np.isfinite(own) & np.isfinite(track)
            x, y = own[good] - own[good].mean(), track[good] - track[good].mean()
            power = float(np.sqrt((x @ x) * (y @ y)))
            if power > 0 and abs(float(x @ y)) > ALONG * power:
                result.append(channel.column)
                break
    return result
