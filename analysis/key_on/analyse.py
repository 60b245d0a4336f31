"""Order the steps from a key-on log to its findings."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on import noise, shift, supply
from analysis.key_on.alias import alias_findings
from analysis.key_on.allowance import lift_bound, more_cycles, rest_moved
from analysis.key_on.blocks import Blocks, Ints, gap_rows, make_blocks, volts_of
from analysis.key_on.brake import brake_events
from analysis.key_on.car import additions, contactor_of, hindrances
from analysis.key_on.coverage_gaps import unread_of
from analysis.key_on.cycles import KeyTimes, find_cycles, judged_spans, mark_finding, still_finding
from analysis.key_on.feet import sort_presses
from analysis.key_on.leads import find_leads, lead_findings, without
from analysis.key_on.opening import gravest_first
from analysis.key_on.presses import TrackFacts, find_presses
from analysis.key_on.proof import prove
from analysis.key_on.results import (
    UNKNOWN,
    BrakeEvent,
    Interval,
    KeyCycle,
    KeyOnFindings,
    Proof,
    TrackCycle,
    TrackKeyOn,
)
from analysis.key_on.seen import away_findings, supply_findings, unlogged_tracks, unseen_findings
from analysis.key_on.sentences import moved_findings, say
from analysis.key_on.strays import Strays, find_strays, stray_findings, withdrawn_text
from analysis.key_on.temperature import warmth_of
from analysis.key_on.track_context import limits_of, pair_gain, track_facts
from analysis.key_on.verdict import furthest, judge, passed, stays_beyond
from analysis.model.errors import NoTrack, SweepTooShort
from analysis.model.recording import Array, Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import CarAddition, DeadBand
from analysis.pedal.findings import Findings, decide
from analysis.pedal.settings import Setting
from analysis.signal.spectrum import find_tones


def analyse_key_on(recording: Recording, parameters: Parameters | None = None,
                   settings: Sequence[Setting] = (), sweep: Findings | None = None,
                   contactor: str | None = None) -> KeyOnFindings:
    """Return what key-on does to the rest readings, the verdict, and the proof.

    settings: values in the controller (`start_of_travel`, `release`, `full_travel`, `rest` per
    track); a track without any is judged by those of the sweep. sweep: findings of the same pedal
    on the bench; with it directions and travel are known and the settings are issued anew with
    what this car adds. contactor: "open" or "closed" at these key-ons, None as the log's header
    says.
    Raises NoTrack, NoKeyOn and SweepTooShort.
    """
    parameters = (
        parameters
        if parameters is not None
        else (sweep.parameters if sweep is not None else Parameters())
    )
    if not recording.with_role("track"):
        raise NoTrack("the log has no channel of role 'track', so there is no pedal in it; "
                      "name the pedal's columns as tracks")
    if recording.rows < 50:
        raise SweepTooShort(f"the log has {recording.rows} rows; log some seconds with the key "
                            "off, turn the key on, and leave it on for 25 s")
    if not recording.time_s[-1] > recording.time_s[0]:
        raise SweepTooShort(f"the log's time stands still at {recording.time_s[0]:g} s; repair "
                            "the column time_s")
    given = {s.channel for s in settings}
    judged = (*settings, *(s for s in (sweep.settings if sweep is not None else ())
                           if s.channel not in given))
    log = _Log(recording, parameters, judged, sweep)
    proofs = {f.column: log.proof(f) for f in log.facts}
    tracks = {f.column: log.track(f, proofs[f.column].reach_volts) for f in log.facts}
    forbidding = () if sweep is None else tuple(s.text for s in sweep.graded if s.gravity >= 2)
    known = gravest_first(
        (
            *log.found,
            *moved_findings(tracks),
            *stray_findings(log.strays, parameters),
            *alias_findings(tracks.values(), 1.0 / log.whole.step_s),
        )
    )
    verdict = judge(recording, log.whole, log.free, log.judged, log.facts, log.limits,
                    log.presses, log.unread, bool(forbidding), known)
    common = supply.common_mode(log.facts, log.shifts(tracks), log.biases(tracks), log.gain,
                                parameters.confidence)
    if common.kind == "none":
        common = replace(common, text=supply.none_moves(
            log.blocks, log.free, log.cycles, bool(log.leads)))
    if any(t.follows == "does not follow" for t in tracks.values()):
        common = replace(common, text=f"In volts as measured, not stated at nominal supply: "
                                      f"{common.text[0].lower()}{common.text[1:]}")
    closed, unknown = contactor_of(recording, contactor)
    car = additions(tracks, parameters, hindrances(recording, closed, log.unread, known,
                                             verdict.applied), known)
    if recording.supply is None and common.kind in ("ground offset", "mixed"):
        common = replace(common, text=f"{common.text} Or the supply sags: it was not logged.")
    bands, issued = _issued(sweep, car, parameters)
    kept = issued if bands else judged
    findings = KeyOnFindings(
        recording,
        parameters,
        closed,
        car,
        log.cycles,
        log.presses,
        tracks,
        common,
        verdict,
        proofs,
        log.brake(),
        more_cycles(log.lifts_logged, parameters),
        bands,
        kept,
        bool(bands),
        None if sweep is None else sweep.recording,
        forbidding,
        passed(kept, verdict, tracks),
        log.unread,
        log.key_on_hours,
        (*log.notes, *([unknown] if unknown else [])),
        (),
        known,
    )
    return replace(findings, sentences=say(findings))


def _issued(sweep: Findings | None, car: Mapping[str, CarAddition], parameters: Parameters,
            ) -> tuple[dict[str, DeadBand], tuple[Setting, ...]]:
    """Return dead bands and settings with what counts for each track as the car's part."""
    if sweep is None or sweep.doubt is not None or not all(n in car for n in sweep.tracks):
        return {}, ()
    decided = decide(sweep, parameters, car)
    return dict(decided.dead_bands), decided.settings


class _Log:
    """What the steps share while one log is read; gone when the findings are made."""

    def __init__(self, recording: Recording, parameters: Parameters, settings: tuple[Setting, ...],
                 sweep: Findings | None) -> None:
        self.parameters, self.sweep = parameters, sweep
        self.notes: list[str] = []
        self.whole: Blocks = make_blocks(recording)
        self.gaps: Ints = gap_rows(recording, self.whole.step_s)
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
        presses, free = find_presses(self.blocks, self.facts, self.times.spans, nominal)
        self.presses, self.free, feet = sort_presses(
            self.recording, self.blocks, free, self.facts, self.times, presses, self.gain)
        self.found: tuple[Finding, ...] = (
            *lead_findings(recording, self.whole, self.leads, self.facts, self.times.spans,
                           settings), *feet, *still_finding(recording, self.times),
            *mark_finding(self.times),
            *unseen_findings(recording, self.whole, self.gaps, self.times.spans,
                             frozenset(lead.column for lead in self.leads)),
            *away_findings(recording, self.whole, self.times.spans, (
                (f.column, f.sign, f.span_volts) for f in self.facts
                if f.column not in {lead.column for lead in self.leads})),
            *unlogged_tracks(recording, () if sweep is None else sweep.tracks),
            *supply_findings(recording, self.whole, self.times.spans, {
                f.column: (self.limits[f.column].start, f.sign) for f in self.facts
                if f.column in self.limits}, parameters))
        self.judged = judged_spans(recording, self.whole, self.times)
        self.strays: dict[str, Strays] = {}
        self.unread = {f.column: found for f in self.facts
                       if (found := unread_of(recording, recording.channel(f.column), self.whole,
                                              self.free, self.times.spans)) is not None}
        self.settling = {f.column: [self._settling(f, i) for i in range(len(self.times.spans))]
                         for f in self.facts}
        self.waits_s = tuple(self._wait(i) for i in range(len(self.times.spans)))
        self._feed_noise = _feed_noise(self.recording, self.blocks)
        self._feed_doubts: dict[int, shift.Doubt] = {}
        self._doubts: dict[str, list[shift.Doubt]] = {f.column: [] for f in self.facts}
        self._drift_doubts: dict[str, list[shift.Doubt]] = {f.column: [] for f in self.facts}
        self.per_track = {f.column: [self._track_cycle(f, i)
                                     for i in range(len(self.times.spans))] for f in self.facts}
        self.cycles = tuple(self._cycle(i) for i in range(len(self.times.spans)))
        self.key_on_hours = sum(c.off_s - c.on_s for c in self.cycles) / 3600.0
        self.follow = {} if recording.supply is None else supply.follow(
            self.blocks, [f.column for f in self.facts], recording.supply.column,
            self.times.spans, self.free, self.waits_s, parameters.confidence)
        self._tell()

    @property
    def lifts_logged(self) -> int:
        """Return how many key-ons have a lift that counts, on every track."""
        return sum(all(np.isfinite(t.excursion_volts) for t in c.tracks.values())
                   for c in self.cycles)

    def _settling(self, fact: TrackFacts, number: int) -> float:
        return shift.settling_time(self.recording, self.recording.channel(fact.column),
                                   self.blocks, self.free, self.times.spans[number])

    def _wait(self, number: int) -> float:
        worst = max((s[number] for s in self.settling.values()), default=0.0,
                    key=lambda s: np.inf if np.isnan(s) else s)
        return self.times.unsure_s + (10.0 if np.isnan(worst) else max(1.0, 3.0 * worst))

    def _time(self, row: int) -> float:
        return float(self.recording.time_s[min(row, self.recording.rows - 1)])

    def _track_cycle(self, fact: TrackFacts, number: int) -> TrackCycle:
        recording, blocks, free = self.recording, self.blocks, self.free
        span, channel = self.times.spans[number], recording.channel(fact.column)
        on_s = self._time(span.on_row)
        settled_row = span.on_row + round(self.waits_s[number] / blocks.step_s)
        before = shift.noise_of(channel, blocks, free, span.before_row, span.on_row)
        after = shift.noise_of(channel, blocks, free, settled_row, span.off_row)
        quietest = _least([before, after])
        settling = self.settling[fact.column][number]
        levels = shift.cycle_levels(recording, channel, blocks, free, span, settling,
                                    self.times.unsure_s, quietest,
                                    self._feed_doubt(fact.column, number), on_s,
                                    self.parameters.confidence)
        if np.isfinite(levels.step.value):
            self._doubts[fact.column].append(levels.rounding)
        drift, doubt = shift.drift(
            recording,
            channel,
            blocks,
            free,
            span,
            on_s + self.waits_s[number],
            quietest,
            self.parameters.confidence,
        )
        if np.isfinite(drift.value):
            self._drift_doubts[fact.column].append(doubt)
        rest = levels.before if np.isfinite(levels.before) else fact.bench_rest_volts
        judged = self.judged[number]
        best = furthest(recording, channel, fact.sign, blocks, free, judged.on_row,
                        judged.off_row)
        nan = float("nan")
        lift, at, lasting = nan, nan, nan
        if best is not None and np.isfinite(rest):
            lift = best.directed - fact.sign * rest
            at = self._time(best.row)
            lasting = stays_beyond(recording, channel, fact.sign, blocks, free, span, best.row,
                                   fact.sign * rest + 0.5 * lift)
        return TrackCycle(
            fact.column, levels.before, levels.after, levels.step, settling, lift, at, lasting,
            before, after, drift)

    def _feed_doubt(self, column: str, number: int) -> shift.Doubt:
        """Return what the step of the supply's converter leaves in a shift, volts."""
        feed, span, blocks = self.recording.supply, self.times.spans[number], self.blocks
        if feed is None:
            return shift.Doubt()
        row = span.on_row + round(self.waits_s[number] / blocks.step_s)
        volts, _, _ = supply.supply_levels(blocks, feed.column, span, self.waits_s[number])
        stated = blocks.stated[column].mean
        stated = stated[np.isfinite(stated)]
        if not volts > 0.1 * self.recording.nominal_volts or not stated.size:
            return shift.Doubt()
        if number not in self._feed_doubts:
            pieces = [np.arange(blocks.count)[blocks.between(*rows)]
                      for rows in ((span.before_row, span.on_row), (row, span.off_row))]
            pieces = [piece[self.free[piece]] for piece in pieces]
            self._feed_doubts[number] = shift.rounding_doubt(
                self.recording, feed, blocks, pieces[0], pieces[1], self._feed_noise)
        found = self._feed_doubts[number]
        # A supply read too high states the track too low.
        share = float(np.median(stated)) / volts
        return shift.Doubt(-share * found.expected, abs(share) * found.uncertainty)

    def _cycle(self, number: int) -> KeyCycle:
        span = self.times.spans[number]
        feed = self.recording.supply
        nan = float("nan")
        volts = (nan, nan, nan) if feed is None else supply.supply_levels(
            self.blocks, feed.column, span, self.waits_s[number])
        return KeyCycle(
            number + 1, self.times.found_by, span.before_row, span.on_row, span.off_row,
            self._time(span.before_row), self._time(span.on_row), self._time(span.off_row),
            {c: per[number] for c, per in self.per_track.items()}, *volts)

    def proof(self, fact: TrackFacts) -> Proof:
        """Return how often noise alone passes the track's start of travel."""
        limit = self.limits.get(fact.column)
        after = _rms([c.noise_after_volts for c in self.per_track[fact.column]])
        return prove(self.recording, self.recording.channel(fact.column), fact, self.blocks,
                     self.free, self.times.spans, self.waits_s, self.gaps,
                     float("nan") if limit is None else limit.start, after, self.parameters)

    def track(self, fact: TrackFacts, reach_volts: float) -> TrackKeyOn:
        """Return one track over all cycles; reach_volts: of its noise, NaN unknown."""
        recording, blocks, free = self.recording, self.blocks, self.free
        channel, spans = recording.channel(fact.column), self.times.spans
        cycles = self.per_track[fact.column]
        total, between = shift.pooled([c.shift for c in cycles],
                                      shift.mean_doubt(self._doubts[fact.column]),
                                      self.parameters.confidence)
        drift, _ = shift.pooled([c.drift_volts_per_minute for c in cycles],
                                shift.mean_doubt(self._drift_doubts[fact.column]),
                                self.parameters.confidence)
        found = noise.spectrum(recording, channel, blocks, free, spans, self.gaps, self.waits_s)
        follow, follows = self.follow.get(fact.column, (UNKNOWN, "cannot say"))
        lifts = np.array([c.excursion_volts for c in cycles])
        settled = fact.sign * np.array([c.shift.value for c in cycles])
        bound, basis = lift_bound(lifts, settled, reach_volts, channel.step_volts, self.parameters)
        stray = find_strays(fact.column, lifts, settled,
                            _rms([c.noise_after_volts for c in cycles]), channel.step_volts,
                            self.parameters)
        if stray is not None:
            self.strays[fact.column] = stray
            if stray.chance > 1.0 - self.parameters.confidence:
                bound, basis = float("nan"), withdrawn_text(stray, self.parameters)
        moved = self._moved(fact)
        return TrackKeyOn(
            fact.column, "rising" if fact.sign > 0 else "falling", fact.why, fact.span_volts,
            total, between, _worst([c.settling_s for c in cycles]), _greatest(lifts),
            _rms([c.noise_before_volts for c in cycles]),
            _rms([c.noise_after_volts for c in cycles]),
            found, find_tones(found, 1.0 / blocks.step_s),
            drift, self._per_degree(channel, cycles), follow, follows, bound, basis, moved,
            channel.step_volts)

    def _moved(self, fact: TrackFacts) -> float:
        """Return how far rest lies from the sweep's towards pressed; 0 when it does not, or NaN."""
        if self.sweep is None or fact.column not in self.sweep.tracks:
            return 0.0
        before = np.array([c.before_volts for c in self.per_track[fact.column]])
        return rest_moved(before, self.sweep.tracks[fact.column], self.parameters,
                          self.recording.channel(fact.column).step_volts)

    def _per_degree(self, channel: Channel, cycles: list[TrackCycle]) -> Interval | None:
        quietest = _least([v for c in cycles for v in (c.noise_before_volts, c.noise_after_volts)])
        return warmth_of(self.recording, channel, self.blocks, self.free, self.times.spans,
                         self.waits_s, quietest, self.parameters.confidence)

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
        span, blocks = self.times.spans[number], self.blocks
        volts, free = blocks.measured[column], self.free
        before = blocks.between(span.before_row, span.on_row)
        after = blocks.between(span.on_row + round(self.waits_s[number] / blocks.step_s),
                               span.off_row)
        a, b = volts[before][free[before]], volts[after][free[after]]
        a, b = a[np.isfinite(a)], b[np.isfinite(b)]
        return float(b.mean() - a.mean()) if a.size and b.size else float("nan")

    def biases(self, tracks: Mapping[str, TrackKeyOn]) -> dict[str, float]:
        """Return what the converter's step leaves uncertain in each track's shift."""
        doubts = {c: shift.mean_doubt(self._doubts[c]) for c in tracks}
        return {c: float(np.hypot(d.expected, d.uncertainty)) for c, d in doubts.items()}

    def brake(self) -> tuple[BrakeEvent, ...]:
        """Return brake and pedal together; a note says when it cannot be told."""
        lines = self.recording.with_role("brake")
        if not lines or not self.facts:
            return ()
        found = brake_events(self.blocks, lines[0].column, self.facts[0])
        if found is None:
            self.notes.append("The brake line never changed, the track is not there, or full "
                              "travel is unknown: brake and pedal together cannot be told (give "
                              "the pedal's sweep, or full_travel).")
            return ()
        return found

    def _tell(self) -> None:
        """Note what is missing or weak."""
        if self.recording.purpose != "key-on":
            self.notes.append(f"This was recorded as a {self.recording.purpose}, not as a key-on "
                              "log; what follows holds only if the foot was off the pedal.")
        if self.times.found_by in ("mark", "signal"):
            self.notes.append(
                f"Key-on was found by {self.times.found_by}: its time is unsure by "
                f"{self.times.unsure_s:g} s; wire the key line to log it exactly.")
        without = [c.number for c in self.cycles
                   if all(np.isnan(t.before_volts) for t in c.tracks.values())]
        if without:
            self.notes.append(f"No rest before key-on in {_cycles(without)}: "
                              "no shift there; start logging with the key off and the pedal fed.")
        short = [c.number for c in self.cycles if c.number not in without
                 and all(np.isnan(t.shift.value) for t in c.tracks.values())]
        if short:
            self.notes.append(
                f"No shift in {_cycles(short)}: too little rest before key-on or "
                "settled rest after it; leave the key off, then on, for 10 s or more each.")
        if len(self.cycles) == 1:
            self.notes.append("One key-on says nothing of how the next differs; log more.")
        if self.gaps.size:
            self.notes.append(f"Samples are missing at {self.gaps.size} places; what happened "
                              "there is not known.")
        for fact in self.facts:
            if fact.why.startswith("its rest lies"):
                self.notes.append(
                    f"Track {fact.column} is taken for "
                    f"{'rising' if fact.sign > 0 else 'falling'} because {fact.why}; "
                    "give the pedal's sweep to be sure.")


def _feed_noise(recording: Recording, blocks: Blocks) -> float:
    """Return the rms of the supply's readings about their level: median over 16 places."""
    feed = recording.supply
    if feed is None:
        return 0.0
    length = min(recording.rows, 20 * blocks.size)
    places = np.linspace(0, recording.rows - length, 16).astype(int)
    spread = [float(np.std(volts_of(feed, p, p + length))) for p in places]
    finite = [s for s in spread if np.isfinite(s)]
    return float(np.median(finite)) if finite else 0.0


def _cycles(numbers: list[int]) -> str:
    first = ", ".join(map(str, numbers[:-1]))
    return f"cycles {first} and {numbers[-1]}" if first else f"cycle {numbers[-1]}"


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
