"""What it all means, in plain sentences, the gravest first."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.parameters import Parameters
from analysis.pedal.dead_band import (
    CAR,
    NOISE,
    SCATTER,
    DeadBand,
    stated,
)
from analysis.pedal.faults import Fault
from analysis.pedal.faults.returns import ReturnTime, return_limit
from analysis.pedal.pair import PairFindings
from analysis.pedal.settings import short_of_stop
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.withhold_levels import conditions, more_would_pay, two_numbers

OFF_PERCENT = 1.0
# Play from here on is told (common practice, no source).
PLAY_PERCENT = 1.0
# Where to look when one line of the budget is most of it (common practice, no source).
CURES = {SCATTER: "look for friction, a weak spring or a worn bush",
         NOISE: "find what disturbs the reading (ground, screen, a loose contact)",
         CAR: "find what lifts the reading in the car"}


@dataclass(frozen=True)
class Sentence:
    """Hold one sentence and how grave it is.

    gravity: 3 do not drive, 2 mend before driving, or the promise does not hold; 1 know it
        before a value is entered; 0 nothing wrong.
    code: what is said, the same word in every sheet (analysis/evidence/sweep.py has what each
        does to a claim); of a fault its kind. channel: the track concerned, None for the pair,
        the pedal or the recording as a whole. values: numbers with their units in the names.
    """

    gravity: int
    text: str
    code: str = ""
    channel: str | None = None
    time_s: float = float("nan")
    travel_percent: float = float("nan")
    values: Mapping[str, float] = field(default_factory=dict)


def verdict(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
            faults: tuple[Fault, ...], bands: Mapping[str, DeadBand],
            returns: tuple[ReturnTime, ...], parameters: Parameters,
            doubt: str | None, short: str | None = None) -> tuple[Sentence, ...]:
    """Return what it means, the gravest first.

    returns: of every release. doubt: why no levels can be given, or None. short: how much more must
    be swept before any value can be given, or None; what else is a guess then stays unsaid.
    """
    if doubt is None and short is not None:
        grave = _fault_sentences(faults, 3, "Do not drive")
        return tuple(sorted((*grave, Sentence(2, short, "not enough"),
                             *_fault_sentences(faults, 2, "Mend before driving"),
                             *_fault_sentences(faults, 1, "Know")), key=lambda s: -s.gravity))
    result = []
    if doubt is not None:
        result.append(Sentence(3, f"Do not drive: {doubt[:1].lower()}{doubt[1:]}", "doubt"))
        if any(fault.text in result[0].text for fault in faults):
            # The doubt is itself the fault, and what else was seen only follows from it.
            return (*result, *_fault_sentences(faults, 1, "Know"))
    result += _fault_sentences(faults, 3, "Do not drive")
    result += _weak_or_costly(bands, parameters, doubt)
    result += _fault_sentences(faults, 2, "Mend before driving")
    result += _off_or_loose(tracks, pair, bands, parameters)
    result += _nothing_for_the_car(bands)
    result += _hum(tracks)
    stop = next((why for why in map(short_of_stop, tracks.values()) if why is not None), None)
    if stop is not None:
        result.append(Sentence(1, f"Sweep again: {stop}.", "short of the stop"))
    result += _dead_bands_stated(bands, parameters)
    result += _pair_measured(pair)
    result += _lift_off_not_proven(returns, parameters)
    result += _fault_sentences(faults, 1, "Know")
    return tuple(sorted(result, key=lambda s: -s.gravity))


def _weak_or_costly(bands: Mapping[str, DeadBand], parameters: Parameters,
                    doubt: str | None) -> list[Sentence]:
    """Return which dead bands cannot be given, and which cost more than the user accepts."""
    result = []
    for name, band in bands.items():
        if band.weak is not None:
            if band.weak != doubt:
                result.append(Sentence(2, f"Track {name}: {band.weak}.", band.weak_code, name))
        elif band.lost_travel_percent > parameters.allowed_lost_travel_percent:
            result.append(Sentence(
                2, f"Track {name}: a dead band that stops creep costs "
                f"{band.lost_travel_percent:.1f} % of travel, more than the "
                f"{parameters.allowed_lost_travel_percent:g} % you accept{_most_of(band)}; see the "
                "remedies.", "costly dead band", name))
    return result


def _off_or_loose(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
                  bands: Mapping[str, DeadBand], parameters: Parameters) -> list[Sentence]:
    """Return how the tracks lie to each other at rest: off, made so, or with play."""
    result = []
    off, loose = off_at_rest(tracks, pair), play_of(pair)
    explained = play_explains(tracks, pair)
    if off is not None:
        column, other, volts = off
        percent = 100 * volts / tracks[column].span.value
        mend = (f". Play of {loose:.1f} % between the two explains it: fasten what is loose and "
                "sweep again before anything is turned" if explained else
                ": mend what is said of it above, and sweep again before anything is turned"
                if bands[column].weak is not None else
                f": turn or trim track {column}, or give each track its own start of travel; see "
                "the remedies")
        result.append(Sentence(
            2, f"Mend before driving: track {column} rests {1000 * volts:.0f} mV further towards "
            f"pressed than track {other}, {percent:.1f} % of its travel. A controller that reads "
            f"both on one scale takes that for a pressed pedal{mend}.", "off at rest", column,
            values={"off_volts": volts, "off_percent": percent}))
    result += _made_so(tracks, pair, parameters)
    if loose > 0 and not explained:
        result.append(Sentence(
            1, f"The tracks have {loose:.1f} % of play: one follows the pedal later than "
            "the other when it turns round. Look for a loose shaft, coupling or lever.", "play"))
    return result


def _nothing_for_the_car(bands: Mapping[str, DeadBand]) -> list[Sentence]:
    return [Sentence(
        1, f"Track {name}: nothing is allowed for what the car adds at key-on, as you "
        "asked: until a key-on log shows that it adds nothing, its start of travel may "
        "be passed.", "nothing allowed for the car", name)
        for name, band in bands.items() if band.weak is None and any(
            i.name == CAR and i.volts <= 0 < band.total_volts and i.basis == "stated"
            for i in band.items)]


def _hum(tracks: Mapping[str, TrackFindings]) -> list[Sentence]:
    return [Sentence(
        1, f"Track {name}: most of its noise at rest is a tone of {track.hum.hertz:.1f} Hz "
        f"and {1000 * track.hum.amplitude_volts:.1f} mV ({track.hum.name}). Find where it "
        "comes in (a charger or an instrument fed from the mains, a ground, an open "
        "screen) and sweep again: the dead band pays for it.", "hum", name)
        for name, track in tracks.items() if track.hum is not None]


def _dead_bands_stated(bands: Mapping[str, DeadBand], parameters: Parameters) -> list[Sentence]:
    return [Sentence(
        0, f"Track {name}: start of travel at {stated(band)[1]:.3f} V costs "
        f"{band.lost_travel_percent:.1f} % of travel"
        f"{''.join(f'; {t}' for t in two_numbers(band))}. {conditions(band)}"
        f"{more_would_pay(band)}",
        "dead band stated", name) for name, band in bands.items()
        if band.weak is None
        and band.lost_travel_percent <= parameters.allowed_lost_travel_percent]


def _pair_measured(pair: PairFindings | None) -> list[Sentence]:
    """Return what is known of one track by the other, and what a pair of this kind cannot show."""
    if pair is None:
        return []
    if not np.isfinite(pair.gain.value):
        said = Sentence(
            2, f"Tracks {pair.first} and {pair.second} were not compared with each other: they "
            "were never read in the same rows. Log both together, and sweep again.",
            "not compared")
    elif not np.isfinite(pair.mismatch_max_percent.value):
        said = Sentence(
            1, f"Tracks {pair.first} and {pair.second} were not compared along the travel: too "
            "little of it was seen on both. Sweep the whole travel slowly, both ways.",
            "not compared")
    else:
        said = Sentence(
            0, f"Track {pair.second} = {pair.gain.value:.3f} x track {pair.first} "
            f"{pair.offset_volts.value:+z.3f} V ({pair.relation}); the tracks differ by at most "
            f"{pair.mismatch_max_percent.value:.1f} % of travel, at "
            f"{pair.mismatch_at_travel_percent:z.0f} %.", "pair measured")
    if not pair.relation.startswith("same slope"):
        return [said]
    return [said, Sentence(
        # Why the Formula SAE rules T.4.2 ask for different transfer functions.
        0, "A short between tracks of the same slope cannot be seen by their difference: power "
        "off, a meter between the signal leads shows it (near 0 ohm).", "shared short unseen")]


def _lift_off_not_proven(returns: tuple[ReturnTime, ...],
                         parameters: Parameters) -> list[Sentence]:
    if any(r.quick for r in returns):
        return []
    quickest = min((r.seconds for r in returns if r.seconds == r.seconds), default=None)
    seen = "" if quickest is None else f"; the quickest return seen took {quickest:.1f} s"
    return [Sentence(
        1, f"The return after a lift-off is not proven: no quick lift-off was seen{seen}, and "
        f"49 CFR 571.124 S5.3 allows {return_limit(parameters):g} s. Sweep again and let go at "
        "once; a pedal that then still comes back slowly must be mended.", "no lift-off")]


def _most_of(band: DeadBand) -> str:
    """Return what most of a dead band is for and where its cure is to be looked for."""
    largest = max(band.items, key=lambda i: i.volts)
    if largest.name == CAR and largest.basis == "assumed":
        return (f": {1000 * largest.volts:.1f} mV of it is assumed for the car, so measure that "
                "first")
    cure = CURES.get(largest.name)
    return "" if cure is None else (
        f": {1000 * largest.volts:.1f} mV of it for {largest.name}, so {cure} first, and sweep "
        "again")


def _made_so(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
             parameters: Parameters) -> list[Sentence]:
    """Return what has to be asked of a pair that may be made so, or may have one track off.

    Nothing where the user gave targets for it: that is the answer.
    """
    if pair is None or not np.isfinite(pair.gain.value) or (
            {pair.first, pair.second} & set(parameters.target_rest_volts)):
        return []
    if pair.relation in ("half slope", "opposed slopes"):
        return _by_its_law(tracks[pair.first], tracks[pair.second], pair)
    if pair.relation not in ("same slope with offset", "other"):
        return []
    first, second = tracks[pair.first], tracks[pair.second]
    at_rest = (f"at rest track {first.column} reads {first.rest.value:.3f} V and track "
               f"{second.column} {second.rest.value:.3f} V")
    if pair.relation == "other":
        return [Sentence(1, (
            f"The two tracks are related in none of the usual ways ({at_rest}, gain "
            f"{pair.gain.value:.2f}). If the pedal's papers do not say so, one of them is off or "
            "wired wrongly: find out which before driving."), "unusual relation")]
    sign = 1.0 if first.direction == "rising" else -1.0
    nearer = second if sign * (second.rest.value - first.rest.value) > 0 else first
    return [Sentence(1, (
        f"The tracks lie {1000 * abs(second.rest.value - first.rest.value):.0f} mV apart all along "
        f"({at_rest}). If the pedal's papers do not say so, track {nearer.column} is off towards "
        "pressed and must be turned or trimmed before driving; enter a start of travel for each "
        "track, never one for both."), "apart all along")]


def _by_its_law(first: TrackFindings, second: TrackFindings,
                pair: PairFindings) -> list[Sentence]:
    """Return where the second track would rest by the usual law of its kind, if it does not."""
    if pair.relation == "opposed slopes":
        meant, law = second.nominal_volts - first.rest.value, "the supply less track"
    elif abs(pair.gain.value) < 1.0:
        meant, law = first.rest.value / 2.0, "half of track"
    else:
        meant, law = 2.0 * first.rest.value, "twice track"
    off = second.rest.value - meant
    if not abs(off) >= OFF_PERCENT / 100.0 * second.span.value:
        return []
    towards = "towards" if (off > 0) == (second.direction == "rising") else "away from"
    return [Sentence(
        1, f"If track {second.column} is meant to be {law} {first.column}, as most such pedals "
        f"are, it would rest at {meant:.3f} V; it rests at {second.rest.value:.3f} V, "
        f"{1000 * abs(off):.0f} mV {towards} pressed. Look into the pedal's papers: if they say "
        f"so, give that target (--target-rest {second.column}={meant:.3f}) and turn or trim it; if "
        "not, give the rest it has.", "perhaps off at rest",
        values={"off_volts": off, "meant_volts": meant})]


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
    if pair is None or pair.relation != "same slope":
        return None
    first, second = tracks[pair.first], tracks[pair.second]
    sign = 1.0 if first.direction == "rising" else -1.0
    by = sign * (second.rest.value - first.rest.value)
    if abs(by) < OFF_PERCENT / 100.0 * min(first.span.value, second.span.value):
        return None
    return (second.column, first.column, by) if by > 0 else (first.column, second.column, -by)


def _fault_sentences(faults: tuple[Fault, ...], gravity: int, opening: str) -> list[
        Sentence]:
    """Return one sentence per kind of fault and channel: the first in full, the others counted."""
    groups: dict[tuple[str, str | None], list[Fault]] = {}
    for fault in faults:
        if fault.gravity == gravity:
            groups.setdefault((fault.kind, fault.channel), []).append(fault)
    result = []
    for group in groups.values():
        more = f" ({len(group) - 1} more like it)" if len(group) > 1 else ""
        first = group[0]
        result.append(Sentence(gravity, f"{opening}: {first.text}{more}.", first.kind,
                               first.channel, first.time_s, first.travel_percent))
    return result
