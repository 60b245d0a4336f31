"""One key-on log while it is read: its steps in order, each track at each key-on, and over all."""

from collections.abc import Mapping

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on import noise, shift, supply
from analysis.key_on.allowance import (
    bound_of_more,
    lift_bound,
    rest_moved,
    returns_reach,
    within_supply,
)
from analysis.key_on.blocks import Blocks, Ints, Readings, gap_rows, make_blocks
from analysis.key_on.coverage_gaps import brief_findings, unread_of
from analysis.key_on.cycles import (
    KeyTimes,
    find_cycles,
    mark_finding,
    still_finding,
)
from analysis.key_on.feed import FeedDoubt
from analysis.key_on.feet import sort_presses
from analysis.key_on.kind import moving_supply
from analysis.key_on.leads import find_leads, lead_findings, without
from analysis.key_on.presses import NOT_DRIVEN, Driven, TrackFacts, find_presses
from analysis.key_on.proof import prove
from analysis.key_on.rests import Settled, judged_spans, sure_rests
from analysis.key_on.results import UNKNOWN, Interval, KeyCycle, Proof, TrackCycle, TrackKeyOn
from analysis.key_on.seen import (
    away_findings,
    reference_findings,
    supply_findings,
    unlogged_tracks,
    unseen_findings,
)
from analysis.key_on.strays import Strays, find_strays, withdrawn
from analysis.key_on.temperature import warmth_of
from analysis.key_on.track_context import limits_of, pair_gain, track_facts
from analysis.key_on.verdict import furthest, stays_beyond
from analysis.model.finding import Reason
from analysis.model.recording import Array, Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns
from analysis.pedal.findings import Findings
from analysis.pedal.settings import Setting
from analysis.signal.spectrum import find_tones


class Measured:
    """Hold what the steps share while one log is read; gone when the findings are made."""

    def __init__(self, recording: Recording, parameters: Parameters, settings: tuple[Setting, ...],
                 sweep: Findings | None, driven: Driven = NOT_DRIVEN) -> None:
        self.parameters, self.sweep = parameters, sweep
        self.whole: Blocks = make_blocks(recording)
        gaps = gap_rows(recording, self.whole.step_s)
        self.facts = track_facts(recording, self.whole, settings, sweep)
        self.leads = find_leads(recording, self.whole, self.facts, settings)
        # What a broken lead reads is no level: it is left out of all but the verdict.
        self.recording = without(recording, self.leads)
        self.blocks: Blocks = make_blocks(self.recording) if self.leads else self.whole
        self.limits = limits_of(settings, [f.column for f in self.facts])
        self.gain = pair_gain(sweep, self.facts)
        nominal = recording.nominal_volts
        _, free = find_presses(self.blocks, self.facts, (), nominal)
        self.times: KeyTimes = find_cycles(self.recording, self.blocks, free)
        # What is claimed of a key-on is claimed of the seconds too that its marks are unsure by.
        self.judged = judged_spans(recording, self.whole, self.times)
        presses, free = find_presses(self.blocks, self.facts, self.times.spans, nominal)
        self.presses, free, feet = sort_presses(
            self.recording, self.blocks, free, self.facts, self.times, presses, self.gain,
            driven)
        free = driven.out_of(free, self.blocks, self.times.spans)
        self.log = Readings(self.recording, self.blocks, free)
        # As it was logged, broken leads and all: what the verdict is of.
        self.seen = Readings(recording, self.whole, free)
        self.found: tuple[Finding, ...] = (
            *lead_findings(recording, self.whole, self.leads, self.facts, self.times.spans,
                           settings), *feet, *self._not_seen(gaps))
        unread = {f.column: found for f in self.facts
                  if (found := unread_of(recording, recording.channel(f.column), self.whole,
                                         free, self.judged)) is not None}
        self.unread = {c: u for c, u in unread.items() if not u.brief}
        self.found += brief_findings(unread, self.whole.step_s)
        self.strays: dict[str, Strays] = {}
        rests = sure_rests(self.times, self.whole.step_s)
        self._settling = {f.column: [shift.settling_time(
            self.log, self.recording.channel(f.column), span) for span in rests]
            for f in self.facts}
        self.settled = Settled(rests, tuple(self._wait_s(i, span.guard_s)
                                            for i, span in enumerate(rests)), gaps)
        self._feed = FeedDoubt(self.log, rests, self.settled.waits_s)
        self._doubts: dict[str, list[shift.Doubt]] = {f.column: [] for f in self.facts}
        self._drift_doubts: dict[str, list[shift.Doubt]] = {f.column: [] for f in self.facts}
        self.per_track = {f.column: [self._track_cycle(f, i) for i in range(len(rests))]
                          for f in self.facts}
        self.cycles = tuple(self._cycle(i) for i in range(len(rests)))
        self.key_on_hours = sum(c.off_s - c.on_s for c in self.cycles) / 3600.0
        self._follow = {} if recording.supply is None else supply.follow(
            self.log, [f.column for f in self.facts], recording.supply.column, self.settled,
            parameters.confidence)

    def _not_seen(self, gaps: Ints) -> tuple[Finding, ...]:
        """Return the findings of what of this log was not seen, or not as it seems."""
        recording, spans = self.seen.recording, self.judged
        broken = frozenset(lead.column for lead in self.leads)
        starts = {f.column: (self.limits[f.column].start, f.sign) for f in self.facts
                  if f.column in self.limits}
        return (
            *still_finding(recording, self.times), *mark_finding(self.times),
            *unseen_findings(recording, self.whole, gaps, spans, broken),
            *away_findings(recording, self.whole, spans, (
                (f.column, f.sign, f.span_volts) for f in self.facts if f.column not in broken)),
            *unlogged_tracks(recording, () if self.sweep is None else self.sweep.tracks),
            *reference_findings(recording),
            *(() if self.sweep is None else reference_findings(self.sweep.recording, True)),
            *moving_supply(recording, self.whole, spans, self.facts, self.parameters),
            *supply_findings(recording, self.whole, spans, starts, self.parameters))

    @property
    def lifts_logged(self) -> int:
        """Return how many key-ons have a lift that counts, on every track."""
        return sum(all(np.isfinite(t.excursion_volts) for t in c.tracks.values())
                   for c in self.cycles)

    def _wait_s(self, number: int, guard_s: float) -> float:
        worst = max((s[number] for s in self._settling.values()), default=0.0,
                    key=lambda s: np.inf if np.isnan(s) else s)
        return guard_s + (10.0 if np.isnan(worst) else max(1.0, 3.0 * worst))

    def _time(self, row: int) -> float:
        return float(self.recording.time_s[min(row, self.recording.rows - 1)])

    def _track_cycle(self, fact: TrackFacts, number: int) -> TrackCycle:
        log, channel = self.log, self.recording.channel(fact.column)
        span, wait_s = self.settled.spans[number], self.settled.waits_s[number]
        settled_row = span.on_row + round(wait_s / self.blocks.step_s)
        before = shift.noise_of(channel, log.blocks, log.free, span.before_row, span.before_stop)
        after = shift.noise_of(channel, log.blocks, log.free, settled_row, span.off_row)
        quietest = _least([before, after])
        settling = self._settling[fact.column][number]
        levels = shift.cycle_levels(log, channel, span, settling, quietest,
                                    self._feed.of(fact.column, number), self.parameters.confidence)
        if np.isfinite(levels.step.value):
            self._doubts[fact.column].append(levels.rounding)
        drift, doubt = shift.drift(log, channel, span, self._time(span.on_row) + wait_s, quietest,
                                   self.parameters.confidence)
        if np.isfinite(drift.value):
            self._drift_doubts[fact.column].append(doubt)
        rest = levels.before if np.isfinite(levels.before) else fact.bench_rest_volts
        judged = self.judged[number]
        best = furthest(log, channel, fact.sign, judged.on_row, judged.off_row)
        nan = float("nan")
        lift, at, lasting = nan, nan, nan
        if best is not None and np.isfinite(rest):
            lift = best.directed - fact.sign * rest
            at = self._time(best.row)
            lasting = stays_beyond(log, channel, fact.sign, self.times.spans[number], best.row,
                                   fact.sign * rest + 0.5 * lift)
        return TrackCycle(
            fact.column, levels.before, levels.after, levels.step, settling, lift, at, lasting,
            before, after, drift)

    def _cycle(self, number: int) -> KeyCycle:
        span = self.times.spans[number]
        feed = self.recording.supply
        nan = float("nan")
        volts = (nan, nan, nan) if feed is None else supply.supply_levels(
            self.blocks, feed.column, self.settled.spans[number], self.settled.waits_s[number])
        return KeyCycle(
            number + 1, self.times.found_by, span.before_row, span.on_row, span.off_row,
            self._time(span.before_row), self._time(span.on_row), self._time(span.off_row),
            {c: per[number] for c, per in self.per_track.items()}, *volts)

    def proof(self, fact: TrackFacts) -> Proof:
        """Return how often noise alone passes the track's start of travel."""
        limit = self.limits.get(fact.column)
        after = _rms([c.noise_after_volts for c in self.per_track[fact.column]])
        return prove(self.log, self.recording.channel(fact.column), fact, self.settled,
                     float("nan") if limit is None else limit.start, after, self.parameters)

    def track(self, fact: TrackFacts, reach_volts: float) -> TrackKeyOn:
        """Return one track over all cycles; reach_volts: of its noise, NaN unknown."""
        channel = self.recording.channel(fact.column)
        cycles = self.per_track[fact.column]
        total, between = shift.pooled([c.shift for c in cycles],
                                      shift.mean_doubt(self._doubts[fact.column]),
                                      self.parameters.confidence)
        drift, _ = shift.pooled([c.drift_volts_per_minute for c in cycles],
                                shift.mean_doubt(self._drift_doubts[fact.column]),
                                self.parameters.confidence)
        found = noise.spectrum(self.log, channel, self.settled)
        follow, follows = self._follow.get(fact.column, (UNKNOWN, "cannot say"))
        lifts = np.array([c.excursion_volts for c in cycles])
        bound, basis = self._bound(fact, lifts, reach_volts)
        return TrackKeyOn(
            fact.column, "rising" if fact.sign > 0 else "falling", fact.why, fact.span_volts,
            total, between, _worst([c.settling_s for c in cycles]), _greatest(lifts),
            _rms([c.noise_before_volts for c in cycles]),
            _rms([c.noise_after_volts for c in cycles]),
            found, find_tones(found, 1.0 / self.blocks.step_s),
            drift, self._per_degree(channel, cycles), follow, follows, bound, basis,
            self._moved(fact), channel.step_volts,
            bound_of_more(lifts, fact.sign * np.array([c.shift.value for c in cycles]),
                          reach_volts, channel.step_volts, self.parameters)
            if np.isfinite(bound) else float("nan"))

    def _bound(self, fact: TrackFacts, lifts: Array, reach_volts: float) -> tuple[float, Reason]:
        """Return what the car may add at a later key-on, and its ground; NaN without a bound."""
        cycles = self.per_track[fact.column]
        step_volts = self.recording.channel(fact.column).step_volts
        settled = fact.sign * np.array([c.shift.value for c in cycles])
        stray = find_strays(fact.column, lifts, settled,
                            _rms([c.noise_after_volts for c in cycles]), step_volts,
                            self.parameters, self._returned(fact))
        if stray is not None:
            self.strays[fact.column] = stray
            if stray.chance > 1.0 - self.parameters.confidence:
                return float("nan"), withdrawn(stray, self.parameters)
        bound, basis = lift_bound(lifts, settled, reach_volts, step_volts, self.parameters)
        rest = [c.before_volts for c in cycles if np.isfinite(c.before_volts)]
        return within_supply(bound, basis, fact.sign, min(rest) if fact.sign > 0 and rest else
                             max(rest, default=float("nan")), self.recording.nominal_volts)

    def _returned(self, fact: TrackFacts) -> Array:
        """Return, by key-on, how far a return of the pedal within it may have moved its rest."""
        swept = None if self.sweep is None else self.sweep.read_there.get(fact.column)
        reach = (self.parameters.car_allowance_volts if swept is None else
                 returns_reach(swept, self.parameters))
        if not np.isfinite(reach):
            reach = self.parameters.car_allowance_volts
        return np.array([reach if any(c.on_s <= p.end_s and p.start_s <= c.off_s
                                      for p in self.presses) else 0.0 for c in self.cycles])

    def _moved(self, fact: TrackFacts) -> float:
        """Return how far rest lies from the sweep's towards pressed; 0 when it does not, or NaN."""
        if self.sweep is None or fact.column not in self.sweep.tracks:
            return 0.0
        before = np.array([c.before_volts for c in self.per_track[fact.column]])
        before = before - self._board_volts(fact)
        return rest_moved(before, self.sweep.read_there[fact.column], self.parameters,
                          self.recording.channel(fact.column).step_volts,
                          self.sweep.reaches.get(fact.column))

    def _board_volts(self, fact: TrackFacts) -> float:
        """Return by how much the board's own load moves the rest that it logs in the car."""
        reach = None if self.sweep is None else self.sweep.reaches.get(fact.column)
        return 0.0 if reach is None else reach.board_volts

    def returns(self, fact: TrackFacts) -> CarReturns:
        """Return the rest before each key-on that follows a press: a return as installed.

        A key-on without a press since the last one finds the pedal where it lay. Only presses
        count that something states: what the car lifts is no return.
        """
        ends = np.array([p.end_s for p in self.presses if p.stated])
        kept, last_s = [], -np.inf
        board = self._board_volts(fact)
        for cycle in self.cycles:
            level = cycle.tracks[fact.column].before_volts
            if np.isfinite(level) and np.any((ends > last_s) & (ends <= cycle.on_s)):
                kept.append((level - board, cycle.on_s))
                last_s = cycle.on_s
        return CarReturns(tuple(level for level, _ in kept), tuple(at for _, at in kept),
                          self.recording.channel(fact.column).step_volts)

    def _per_degree(self, channel: Channel, cycles: list[TrackCycle]) -> Interval | None:
        quietest = _least([v for c in cycles for v in (c.noise_before_volts, c.noise_after_volts)])
        return warmth_of(self.log, channel, self.settled, quietest, self.parameters.confidence)

    def shifts(self, tracks: Mapping[str, TrackKeyOn]) -> dict[str, Array]:
        """Return each track's shift per cycle; measured volts where it follows no supply."""
        result = {}
        for column, cycles in self.per_track.items():
            values = np.array([c.shift.value for c in cycles])
            if tracks[column].follows == "does not follow":
                values = np.array([self._measured_shift(column, i) for i in range(len(cycles))])
            result[column] = values
        return result

    def _measured_shift(self, column: str, number: int) -> float:
        span, blocks = self.settled.spans[number], self.blocks
        volts, free = blocks.measured[column], self.log.free
        before = blocks.between(span.before_row, span.before_stop)
        after = blocks.between(*self.settled.rows(blocks.step_s)[number])
        a, b = volts[before][free[before]], volts[after][free[after]]
        a, b = a[np.isfinite(a)], b[np.isfinite(b)]
        return float(b.mean() - a.mean()) if a.size and b.size else float("nan")

    def biases(self, tracks: Mapping[str, TrackKeyOn]) -> dict[str, float]:
        """Return what the converter's step leaves uncertain in each track's shift."""
        doubts = {c: shift.mean_doubt(self._doubts[c]) for c in tracks}
        return {c: float(np.hypot(d.expected, d.uncertainty)) for c, d in doubts.items()}


def _least(values: list[float]) -> float:
    finite = [v for v in values if np.isfinite(v)]
    return min(finite) if finite else 0.0


def _greatest(values: Array) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.max()) if finite.size else float("nan")


def _worst(values: list[float]) -> float:
    """Return the longest; NaN when one never settled."""
    return float(np.max(values)) if values else float("nan")


def _rms(values: list[float]) -> float:
    finite = np.array([v for v in values if np.isfinite(v)])
    return float(np.sqrt(np.mean(finite**2))) if finite.size else float("nan")
