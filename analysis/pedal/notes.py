"""What is missing or weak in a sweep, one sentence each."""

from collections.abc import Iterator, Mapping

import numpy as np

from analysis.model.recording import Recording
from analysis.pedal.dead_band import ADVISED_RETURNS, too_slow
from analysis.pedal.faults import Fault
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.verdict import Sentence
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
LONE_TRACK = ("Only one track follows the pedal: nothing checks it, and the mismatch cannot be "
              "known.")
# A further input that correlates with a track by more than this is a track; an idle switch, which
# knows two levels only, stays below (common practice, no source).
ALONG = 0.97


def missing(recording: Recording, tracks: Mapping[str, TrackFindings],
            faults: tuple[Fault, ...] = ()) -> tuple[Sentence, ...]:
    """Return what is missing or weak: gravity 1 when the values suffer from it, else 0.

    faults: those told beside it.
    """
    return (*_of_the_file(recording), *_of_the_rate(tracks, faults), *_of_the_stays(tracks),
            *_of_the_supply(recording, tracks), *_of_the_steps(recording, tracks),
            *_of_the_tracks(recording, tracks))


def _note(code: str, text: str, gravity: int = 0) -> Sentence:
    return Sentence(gravity, text, code)


def _of_the_file(recording: Recording) -> Iterator[Sentence]:
    if not recording.complete:
        yield _note("cut short", "The file was cut short; every whole row was used.")
    if recording.lost_samples:
        yield _note("samples lost", f"{recording.lost_samples} samples were lost while recording.")


def _of_the_rate(tracks: Mapping[str, TrackFindings],
                 faults: tuple[Fault, ...]) -> Iterator[Sentence]:
    apart = max((t.step_s for t in tracks.values() if t.step_s >= BLIND_S), default=None)
    if apart is not None:
        rest = ("there may be more of them than are told"
                if any(f.kind in LOST_CONTACT for f in faults) else
                "that no such fault is found does not mean that there is none")
        yield _note(
            "rate too low", f"At {1 / apart:.3g} readings a second a loss of contact shorter than "
            f"{1000 * apart:.0f} ms can fall between two of them unseen, and one met during a "
            f"quick move may pass for the foot: {rest}. Log at {ENOUGH_HZ:g} Hz or more to look "
            "for them.", 1)


def _of_the_stays(tracks: Mapping[str, TrackFindings]) -> Iterator[Sentence]:
    returns = min((t.rest_levels.size for t in tracks.values()), default=0)
    if returns < ADVISED_RETURNS:
        seen = ("No return to rest was" if returns == 0 else "Only one return to rest was"
                if returns == 1 else f"Only {returns} returns to rest were")
        yield _note(
            "few returns", f"{seen} seen; the scatter of returns needs at least "
            f"{ADVISED_RETURNS}, better 10: sweep again with more presses.", 1)
    seconds = min((t.rest_seconds for t in tracks.values()), default=0.0)
    slow = next(filter(None, map(too_slow, tracks.values())), None)
    if seconds < LEAST_REST_S and slow is not None:
        yield _note("few rest readings", f"{slow}.", 1)
    elif seconds < LEAST_REST_S:
        yield _note(
            "short rest",
            f"The pedal was seen at rest for {seconds:.1f} s; the electrical noise needs at "
            f"least {LEAST_REST_S:g} s: leave it alone longer.", 1)


def _of_the_supply(recording: Recording, tracks: Mapping[str, TrackFindings]) -> Iterator[Sentence]:
    if recording.supply is None:
        yield _note(
            "supply not recorded",
            "The supply was not recorded: volts are as measured, and the budget carries the "
            "supply's tolerance. Record it on a third input to take that out.")
    elif recording.nominal_volts > 0 and SUPPLY_OFF < abs(
            recording.usual_supply_volts / recording.nominal_volts - 1.0) <= OFF:
        usual, nominal = recording.usual_supply_volts, recording.nominal_volts
        yield _note(
            "supply off nominal",
            f"The supply read {usual:.2f} V where {nominal:g} V is meant. All levels here are "
            f"stated at {nominal:g} V: a meter on the pedal shows {usual / nominal:.3f} times as "
            "much, and a controller that does not measure the supply too reads that.", 1)
    question = clipped_question(recording)
    if question is not None:
        yield _note("supply clipped", question, 1)
    board = recording.extra.get("board")
    contradicted = reference_contradicted(
        board.get("supply_mv") if isinstance(board, dict) else None,
        next((c.reference_volts for c in recording.with_role("track")), None))
    if contradicted is not None:
        yield _note("reference contradicted", f"{contradicted[:1].upper()}{contradicted[1:]}.", 1)
    if (share := fed_share(recording, tracks)) < SUPPLY_ROWS:
        yield _note(
            "supply read seldom",
            f"Only {100 * share:.0f} % of the tracks' readings have one of the supply beside "
            "them; it is taken to run straight between its own, so a dip there is not seen. Log "
            "the supply as often as the tracks.")


def _of_the_steps(recording: Recording, tracks: Mapping[str, TrackFindings]) -> Iterator[Sentence]:
    unknown = [name for name, track in tracks.items() if track.step_volts <= 0]
    if unknown:
        yield _note(
            "step not known",
            f"The converter's step of {' and '.join(unknown)} is not known: the readings are "
            "volts and do not show it, so the budget allows nothing for the converter. "
            "Import the log with --step-volts.", 1)
    for name, track in tracks.items():
        if recording.channel(name).step_estimated:
            yield _note(
                "step estimated",
                f"Track {name}: one converter step of {1000 * track.step_volts:.2f} mV was "
                "estimated from the grid its readings lie on.")


def _of_the_tracks(recording: Recording, tracks: Mapping[str, TrackFindings]) -> Iterator[Sentence]:
    if len(tracks) == 1:
        yield _note("one track", LONE_TRACK, 1)
    compared, alone = list(tracks)[:2], list(tracks)[2:]
    if alone:
        yield _note(
            "third track alone",
            f"Only tracks {compared[0]} and {compared[1]} are compared with each other; "
            f"{', '.join(alone)} {'is' if len(alone) == 1 else 'are'} measured alone.")
    for column in _overlooked(recording, tracks):
        yield _note(
            "overlooked track",
            f"{column} moves with the pedal but has the role other, so nothing was measured of "
            f"it: record it with --role {column}=track to have it judged.", 1)
    for name, track in tracks.items():
        if track.full_levels.size == 0:
            yield _note(
                "no held full press",
                f"Track {name}: no held full press was seen; its full travel is taken "
                "from the peaks.")
        if not np.isfinite(track.noise_volts):
            yield _note(
                "noise not measured", f"Track {name}: too little rest to measure its noise.", 1)


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
