"""What stands beside the first two tracks: a third one, and switches on the pedal."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from analysis.model.finding import Finding, Value
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.direction import (
    BOTH,
    FORWARD,
    NEUTRAL,
    REVERSE,
    DirectionFindings,
)
from analysis.pedal.faults import Fault
from analysis.pedal.pair import PairFindings
from analysis.pedal.possible_controllers import read_without_lead
from analysis.pedal.settings import Setting
from analysis.pedal.switch import SwitchFindings
from analysis.pedal.verdict import found


def third_findings(pair: PairFindings | None, third: Sequence[PairFindings],
                   parameters: Parameters, faults: Sequence[Fault] = ()) -> Iterator[Finding]:
    """Yield how a third track agrees with both others, and which of three is the odd one.

    third: the pairs of each further track with the first and with the second. Of three, the one
    that both others contradict while they agree is odd; where no two agree none can be told, nor
    where the two that agree are one wiper read twice (`faults`): then they are one witness.
    """
    if pair is None:
        return
    limit = parameters.mismatch_limit_percent
    for name in dict.fromkeys(p.second for p in third):
        with_it = [p for p in third if p.second == name]
        three = {frozenset((p.first, p.second)): p.mismatch_max_percent.value
                 for p in (pair, *with_it)}
        if len(three) < 3 or not all(np.isfinite(v) for v in three.values()):
            yield found("third track alone", 0, None, {
                "first": pair.first, "second": pair.second, "alone": (name,)})
            continue
        told: dict[str, Value] = {"third": name, "limit_percent": limit, "mismatches": tuple(
            (*sorted(two), worst) for two, worst in three.items())}
        copies = [frozenset((f.why.values["first"], f.why.values["second"])) for f in faults
                  if f.kind == "same wiper" and f.gravity > 1]
        odd = _odd((pair.first, pair.second, name), three, limit)
        agreeing = frozenset((pair.first, pair.second, name)) - {odd}
        if odd is not None and agreeing in copies:
            yield found("no two tracks agree", 2, None, {**told, "copies": tuple(sorted(agreeing))})
        elif odd is not None:
            yield found("odd track", 2, None, {**told, "odd": odd})
        elif max(three.values()) > limit:
            yield found("no two tracks agree", 2, None, {**told, "copies": None})
        else:
            yield found("third track compared", 0, None, told)


def _odd(names: tuple[str, str, str], worst: Mapping[frozenset[str], float],
         limit: float) -> str | None:
    """Return the track that both others contradict while these two agree, or None."""
    for name in names:
        others = frozenset(n for n in names if n != name)
        against = [worst[frozenset(two)] for two in combinations(names, 2) if name in two]
        if worst[others] <= limit and min(against) > limit:
            return name
    return None


def switch_findings(switches: Mapping[str, SwitchFindings], bands: Mapping[str, DeadBand],
                    begins_percent: Mapping[str, float]) -> Iterator[Finding]:
    """Yield where each switch makes, and whether every start of travel lies beyond it.

    begins_percent: by track, the travel at which its start of travel lies.
    """
    starts = {n: p for n, p in begins_percent.items() if np.isfinite(p)}
    for name, switch in switches.items():
        if not switch.press_percent.size:
            yield found("switch silent", 1, None, {"switch": name})
            continue
        earliest = min(starts, key=starts.__getitem__, default=None)
        told: dict[str, Value] = {
            "switch": name, "make_percent": switch.make_percent,
            "latest_percent": switch.latest_percent,
            "earliest_percent": float(switch.press_percent.min()),
            "presses": int(switch.press_percent.size), "missed": switch.missed,
            "release_percent": (float(np.median(switch.release_percent))
                                if switch.release_percent.size else None),
            "bounce_s": switch.bounce_s, "closed_at_rest": switch.closed_at_rest,
            "start_of": earliest, "start_percent": starts.get(earliest or ""),
            "start_volts": None if earliest is None else bands[earliest].start_of_travel_volts}
        behind = 0 if earliest is None else int(np.sum(
            switch.press_percent >= starts[earliest]))
        if behind or switch.missed:
            yield found("switch too late", 2, None, {**told, "behind": behind})
        else:
            yield found("switch measured", 0, None, told)


def direction_findings(direction: DirectionFindings | None) -> Iterator[Finding]:
    """Yield what the direction switch says on each press, and what it must not do."""
    if direction is None:
        return
    presses: dict[str, Value] = {f"{state}_presses": direction.on_press.count(state)
                                 for state in (FORWARD, REVERSE, NEUTRAL, BOTH)}
    if direction.both_times:
        yield found("both directions closed", 2, None, {
            "seconds": direction.both_s, "times": direction.both_times,
            "at_s": direction.both_at_s})
    if direction.while_pressed:
        yield found("direction changed while pressed", 1, None, {
            "times": direction.while_pressed, "at_s": direction.pressed_at_s})
    yield found("direction measured", 0, None, {
        **presses, "presses": len(direction.on_press), "changes": direction.changes,
        "bounce_s": direction.bounce_s})


def lead_findings(bands: Mapping[str, DeadBand], settings: Sequence[Setting],
                  parameters: Parameters, nominal_volts: float) -> Iterator[Finding]:
    """Yield the tracks whose broken signal lead would read as a pressed pedal, within its limits.

    nominal_volts: of their supply. By the pull that is stated of the controller's input: it moves a
    lead that hangs on nothing.
    """
    read = read_without_lead(parameters, nominal_volts)
    if read is None or parameters.pedal_kind == "rheostat":
        return
    known = {(s.name, s.channel): s.value for s in settings}
    for name, band in bands.items():
        start, rises = band.start_of_travel_volts, band.start_of_travel_volts >= band.rest_volts
        low, high = (known.get((limit, name), np.nan) for limit in ("fault_low", "fault_high"))
        # What lies between start of travel and the limit on the pressed side asks for power.
        least = max(read[0], start if rises else low if np.isfinite(low) else -np.inf)
        most = min(read[1], (high if np.isfinite(high) else np.inf) if rises else start)
        if np.isfinite(start) and least <= most:
            yield found("broken lead unseen", 1, name, {
                "low_volts": read[0], "high_volts": read[1], "fault_low_volts": low,
                "fault_high_volts": high, "pull": parameters.controller_pull})
