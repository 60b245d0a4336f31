"""A track at 0 V or at its supply in the car: a lead that broke or touched, not noise and no lift.

Such readings tell nothing of the pedal: they are named here and left out of every level, noise
and bound. The verdict still counts them: a controller without fault limits would follow them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, runs, volts_of
from analysis.key_on.cycles import Span
from analysis.key_on.presses import TrackFacts
from analysis.model.finding import Finding, KeyOnCode
from analysis.model.recording import Array, Channel, Recording
from analysis.pedal.settings import LEAST_FAULT_GAP, Setting

AT_RAIL: KeyOnCode = "lead at a rail"
DROPOUT: KeyOnCode = "dropout in the car"
ALL_ALONG: KeyOnCode = "track at a rail all along"
# Longer than this is no dropout: the Formula SAE rules T.4.2 end power after 100 ms.
_DROPOUT_S = 0.1
_STEPS = 2.5


@dataclass(frozen=True)
class Lead:
    """Hold one time at which a track stood at 0 V or at its supply, both ends in rows."""

    column: str
    high: bool
    start: int
    stop: int


def find_leads(recording: Recording, blocks: Blocks, facts: tuple[TrackFacts, ...],
               settings: Iterable[Setting]) -> tuple[Lead, ...]:
    """Return each time at which a track stood at a rail where a sound pedal does not, in order.

    A sound pedal's ends come from its settings, its sweep's rest and span, else from where the
    track stands in half of this log. None of a track that stands at a rail all along.
    """
    given = {(s.channel, s.name): s.value for s in settings if np.isfinite(s.value)}
    found = []
    for fact in facts:
        channel = recording.channel(fact.column)
        ends = _ends(fact, blocks, given)
        band = max(LEAST_FAULT_GAP * recording.nominal_volts, _STEPS * channel.step_volts)
        for high in (False, True):
            rail = recording.nominal_volts if high else 0.0
            near = min(abs(rail - e) for e in ends) if ends else 0.0
            # Half way at most: a pedal that works near the rail is not told from a broken lead.
            reach = min(band, 0.5 * near)
            limit = given.get((fact.column, "fault_high" if high else "fault_low"), float("nan"))
            if (near > 0 and reach >= 0.5 * channel.step_volts) or np.isfinite(limit):
                found += _at_rail(recording, blocks, channel, high, reach, limit)
    return tuple(sorted(_fed(found, recording, facts), key=lambda lead: lead.start))


def without(recording: Recording, leads: Iterable[Lead]) -> Recording:
    """Return the recording with no reading of a track where it stood at a rail."""
    blank: dict[str, Array] = {}
    for lead in leads:
        if lead.column not in blank:
            blank[lead.column] = np.array(recording.channel(lead.column).readings, dtype=float)
        blank[lead.column][lead.start:lead.stop] = np.nan
    return replace(recording, channels=tuple(
        replace(c, readings=blank[c.column]) if c.column in blank else c
        for c in recording.channels)) if blank else recording


def lead_findings(recording: Recording, blocks: Blocks, leads: tuple[Lead, ...],
                  facts: tuple[TrackFacts, ...], spans: Iterable[Span],
                  settings: Iterable[Setting]) -> tuple[Finding, ...]:
    """Return a finding for each track and rail: a lead of gravity 3, or mere dropouts."""
    given = {(s.channel, s.name): s.value for s in settings if np.isfinite(s.value)}
    on = [(span.on_row, span.off_row) for span in spans]
    result = []
    for fact in facts:
        for high in (False, True):
            mine = [x for x in leads if x.column == fact.column and x.high == high]
            long = [x for x in mine if _seconds(x, recording, blocks) > _DROPOUT_S]
            if mine:
                result.append(_finding(recording, blocks, long or mine, bool(long), on, given))
    result += [f for fact in facts if (f := _all_along(recording, blocks, fact)) is not None]
    return tuple(sorted(result, key=lambda f: -f.gravity))


def _ends(fact: TrackFacts, blocks: Blocks,
          given: dict[tuple[str | None, str], float]) -> list[float]:
    """Return where a sound track may stand: rest and full travel, as far as they are known."""
    names = ("rest", "start_of_travel", "full_travel")
    ends = [given[fact.column, n] for n in names if (fact.column, n) in given]
    if np.isfinite(fact.bench_rest_volts):
        ends.append(fact.bench_rest_volts)
        if np.isfinite(fact.span_volts):
            ends.append(fact.bench_rest_volts + fact.sign * abs(fact.span_volts))
    level = blocks.stated[fact.column].mean
    level = level[np.isfinite(level)]
    if not ends and level.size:
        ends.append(float(np.median(level)))
    return ends


def _at_rail(recording: Recording, blocks: Blocks, channel: Channel, high: bool, reach: float,
             limit: float) -> list[Lead]:
    """Return the runs of readings within `reach` of the rail (or past the limit, half way)."""
    stats, nominal = blocks.stated[channel.column], recording.nominal_volts
    if np.isfinite(limit):
        reach = max(reach, 0.5 * abs((nominal if high else 0.0) - limit))
    # The blocks tell at a glance whether there is anything to look for.
    hit = stats.highest >= nominal - reach if high else stats.lowest <= reach
    found = []
    for first, last in runs(hit):
        a, b = first * blocks.size, min(last * blocks.size, blocks.rows)
        volts = volts_of(channel, a, b)
        supply = recording.supply
        feed = np.full(volts.size, nominal) if supply is None else volts_of(supply, a, b)
        live = feed > 0.5 * nominal
        share = np.full(volts.size, np.nan)
        np.divide(volts * nominal, feed, out=share, where=live)
        at: Bools = (share >= nominal - reach) if high else (share <= reach)
        found += [Lead(channel.column, high, a + i, a + j) for i, j in runs(at)]
    return _joined(found)


def _joined(found: list[Lead]) -> list[Lead]:
    result: list[Lead] = []
    for lead in found:
        if result and lead.start <= result[-1].stop:
            result[-1] = replace(result[-1], stop=max(lead.stop, result[-1].stop))
        else:
            result.append(lead)
    return result


def _fed(found: list[Lead], recording: Recording, facts: tuple[TrackFacts, ...]) -> list[Lead]:
    """Return those that are no pedal without its supply: all tracks at 0 V, supply not logged."""
    if recording.supply is not None or len(facts) < 2:
        return found
    low = {f.column: np.zeros(recording.rows + 1, dtype=np.int64) for f in facts}
    for lead in found:
        if not lead.high:
            low[lead.column][lead.start] += 1
            low[lead.column][lead.stop] -= 1
    dark = np.logical_and.reduce([np.cumsum(low[f.column])[:-1] > 0 for f in facts])
    if not dark.any():
        return found
    return [x for x in found if x.high or np.mean(dark[x.start:x.stop]) < 0.5]


def _seconds(lead: Lead, recording: Recording, blocks: Blocks) -> float:
    last = min(lead.stop, recording.rows - 1)
    return float(recording.time_s[last] - recording.time_s[lead.start]) if (
        last > lead.start) else blocks.step_s


def _finding(recording: Recording, blocks: Blocks, mine: list[Lead], long: bool,
             on: list[tuple[int, int]], given: dict[tuple[str | None, str], float]) -> Finding:
    column, high = mine[0].column, mine[0].high
    seconds = [_seconds(x, recording, blocks) for x in mine]
    first = float(recording.time_s[mine[0].start])
    limit = given.get((column, "fault_high" if high else "fault_low"), float("nan"))
    with_key = any(x.start < b and x.stop > a for x in mine for a, b in on)
    return Finding(AT_RAIL if long else DROPOUT, 3 if long else 2, "track", channel=column,
                   time_s=first, values={
        "seconds": sum(seconds), "longest_s": max(seconds), "times": float(len(mine)),
        "fault_limit_volts": limit, "rail_volts": recording.nominal_volts if high else 0.0,
        "at_supply": high, "key_on": with_key})


def _all_along(recording: Recording, blocks: Blocks, fact: TrackFacts) -> Finding | None:
    """Return that a track never left a rail where nothing tells that it rests there."""
    level = blocks.stated[fact.column].mean
    level = level[np.isfinite(level)]
    if not level.size or np.isfinite(fact.bench_rest_volts):
        return None
    step = recording.channel(fact.column).step_volts
    band = max(0.2 * LEAST_FAULT_GAP * recording.nominal_volts, _STEPS * step)
    low = float(level.max()) <= band
    if not low and not float(level.min()) >= recording.nominal_volts - band:
        return None
    return Finding(ALL_ALONG, 3, "track", channel=fact.column,
                   time_s=float(recording.time_s[0]), values={"at_supply": not low})
