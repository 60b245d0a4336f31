"""Two recordings of one pedal: what moved, by how much against its uncertainty, what got worse.

Method (docs/method_compare.md): each difference is held against its standard
uncertainty u = sqrt(u1^2 + u2^2 + what only one of the two may carry). It counts as real when
|difference| > k u, where k makes the chance that any of all m differences of an unchanged pedal
counts as real at most 5 %: k is the quantile 1 - 0.05 / (2 m) of Student's t (Bonferroni) with
the effective degrees of freedom of JCGM 100:2008, G.4.1 (Welch-Satterthwaite).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.evidence.sweep import SUPPLY, UNSEEN
from analysis.model.estimate import Estimate
from analysis.model.finding import Finding, Reason
from analysis.pedal.compare_notes import comparison_notes, two_boards
from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from analysis.pedal.of_its_kind import marked, marks_of
from analysis.pedal.one_scale import on_one_scale
from analysis.pedal.settings_check import stale_settings
from analysis.pedal.tracks import TrackFindings
from analysis.statistics.returns_bound import LAWS, scale_doubt

FALSE_ALARM = 0.05
# Noise is known to this share at best, however long the rest (common practice, no source).
NOISE_KNOWN = 0.05


@dataclass(frozen=True)
class Move:
    """Hold one quantity before and after.

    name: "rest", "full_travel", "span", "rest_scatter", "noise", "drift", "linearity", "gain",
        "offset", "mismatch_max", "play" or "return_time". channel: None for pair and pedal.
    change: after minus before; uncertainty: one standard uncertainty of it, NaN when unknown.
    real: whether it is more than chance, None when that cannot be told.
    worse: True or False for a real change for the worse or better, None for neither.
    """

    name: str
    channel: str | None
    unit: str
    before: float
    after: float
    change: float
    uncertainty: float
    real: bool | None
    worse: bool | None


@dataclass(frozen=True)
class SettingChange:
    """Hold one recommended value before and after; NaN where it could not be determined."""

    name: str
    channel: str | None
    unit: str
    before: float
    after: float


@dataclass(frozen=True)
class Comparison:
    """Hold what differs between two recordings.

    factor: k for a quantity of many degrees of freedom. faults_new, faults_gone: one per kind
        and channel. stale: where start of travel as of the first recording no longer keeps the
        pedal still. notes: what weakens the comparison. before, after: what both recordings show.
    """

    moves: tuple[Move, ...]
    settings: tuple[SettingChange, ...]
    faults_new: tuple[Fault, ...]
    faults_gone: tuple[Fault, ...]
    factor: float
    stale: tuple[Reason, ...]
    notes: tuple[Reason, ...]
    before: Findings
    after: Findings

    @property
    def got_worse(self) -> bool:
        """Return whether anything got worse for certain."""
        return (any(f.kind not in OF_THE_READING for f in self.faults_new)
                or bool(self.newly_grave)
                or any(move.worse for move in self.moves))

    @property
    def left(self) -> tuple[Finding, ...]:
        """Return what must still be repaired by the later recording."""
        return tuple(f for f in self.after.graded if f.gravity >= 2)

    @property
    def asked(self) -> tuple[Finding, ...]:
        """Return what else the later recording's verdict says has to be known."""
        return tuple(f for f in self.after.verdict if f.gravity == 1)

    @property
    def newly_grave(self) -> tuple[str, ...]:
        """Return the codes of what must be repaired now and did not have to be before.

        What was not seen is none of them: it leaves a claim open.
        """
        known = {(s.code, s.channel) for s in self.before.graded if s.gravity >= 2}
        return tuple(s.code for s in self.after.graded
                     if s.gravity >= 2 and (s.code, s.channel) not in known
                     and s.code not in UNSEEN | OF_THE_READING)


# How the later recording was read, not what became of the pedal: one lead clipped to both inputs.
OF_THE_READING = frozenset({"same wiper"})


@dataclass(frozen=True)
class _Pair:
    """Hold one quantity of both recordings. more: uncertainty that only a change carries.

    degrees: degrees of freedom of both uncertainties. bad: the sign of a change for the worse.
    ratio: it is told from its ratio, not from its difference; then the standard uncertainty of the
    logarithm of that ratio, else 0.
    """

    name: str
    channel: str | None
    unit: str
    before: Estimate
    after: Estimate
    degrees: tuple[float, float] = (math.inf, math.inf)
    more: float = 0.0
    bad: int = 0
    ratio: float = 0.0


def effective_degrees(parts: Sequence[tuple[float, float]]) -> float:
    """Return the effective degrees of freedom of a sum of (uncertainty, degrees) parts.

    JCGM 100:2008, equation G.2b.
    """
    total = math.fsum(u * u for u, _ in parts)
    weight = math.fsum(u ** 4 / degrees for u, degrees in parts if u > 0)
    return total * total / weight if weight > 0 else math.inf


def coverage_factor(degrees: float, differences: int) -> float:
    """Return k for one of so many differences; infinite below one degree of freedom."""
    from scipy.special import ndtri, stdtrit

    if not degrees >= 1.0:
        return math.inf
    quantile = 1.0 - FALSE_ALARM / (2.0 * differences)
    return float(ndtri(quantile) if math.isinf(degrees) else stdtrit(degrees, quantile))


def compare(before: Findings, after: Findings) -> Comparison:
    """Return what differs between two recordings of one pedal.

    Tracks are matched by name; one that only one recording has is named in the notes.
    """
    before, after = on_one_scale(before, after)
    pairs = _pairs(before, after)
    told = [p for p in pairs if math.isfinite(p.before.value) and math.isfinite(p.after.value)]
    many = max(1, len(told))
    moves = tuple(_move(pair, many) for pair in told)
    known = {(s.name, s.channel): s for s in before.settings}
    settings = tuple(
        SettingChange(s.name, s.channel, s.unit, known[s.name, s.channel].value, s.value)
        for s in after.settings if (s.name, s.channel) in known
        and known[s.name, s.channel].unit == s.unit)
    new = _only_in(after.faults, before.faults)
    gone = _only_in(before.faults, after.faults)
    rests = {m.channel: m.change for m in moves if m.name == "rest" and m.real and m.channel}
    stale = stale_settings(before, after, rests, coverage_factor(math.inf, many))
    marks, per_volt = marks_of(after.recording), after.recording.ohms_per_volt
    return Comparison(
        tuple(_in_ohms(m, per_volt) for m in moves),
        tuple(_setting_in_ohms(s, per_volt) for s in settings), new, gone,
        coverage_factor(math.inf, many), tuple(marked(r, marks) for r in stale),
        tuple(marked(r, marks) for r in comparison_notes(before, after)), before, after)


def _in_ohms(move: Move, per_volt: float | None) -> Move:
    """Return a move of a rheostat in ohms."""
    if per_volt is None or move.unit not in ("V", "V/min"):
        return move
    before, after, change, uncertainty = (
        per_volt * v for v in (move.before, move.after, move.change, move.uncertainty))
    return replace(move, unit=move.unit.replace("V", "ohm"), before=before, after=after,
                   change=change, uncertainty=uncertainty)


def _setting_in_ohms(setting: SettingChange, per_volt: float | None) -> SettingChange:
    if per_volt is None or setting.unit != "V":
        return setting
    return replace(setting, unit="ohm", before=per_volt * setting.before,
                   after=per_volt * setting.after)


def _pairs(before: Findings, after: Findings) -> list[_Pair]:
    pairs: list[_Pair] = []
    for name, old in before.tracks.items():
        new = after.tracks.get(name)
        if new is None:
            continue
        def level(key: str, first: Estimate, second: Estimate, counts: tuple[int, int],
                  name: str = name, both: tuple[TrackFindings, TrackFindings] = (old, new),
                  ) -> _Pair:
            return _Pair(key, name, "V", first, second,
                         (float(counts[0] - 1), float(counts[1] - 1)),
                         math.hypot(_supply_part(before, after, both,
                                                 max(first.value, second.value)),
                                    _board_part(before, after, both)))
        rests = (old.rest_levels.size, new.rest_levels.size)
        fulls = (old.full_levels.size, new.full_levels.size)
        pairs += [
            level("rest", _repeating(old.rest, old.rest_repeats),
                  _repeating(new.rest, new.rest_repeats), rests),
            level("full_travel", _repeating(old.full, old.full_repeats),
                  _repeating(new.full, new.full_repeats), fulls),
            level("span", _span(old), _span(new),
                  (min(rests[0], fulls[0]), min(rests[1], fulls[1]))),
            _scatter_pair(before, after, old, new),
            _Pair("noise", name, "V", _noise(old), _noise(new), bad=1),
            _Pair("drift", name, "V/min", old.drift_volts_per_minute,
                  new.drift_volts_per_minute, (float(rests[0] - 2), float(rests[1] - 2))),
            _Pair("linearity", name, "%", Estimate(old.linearity_percent, math.nan),
                  Estimate(new.linearity_percent, math.nan), bad=1),
        ]
    first, second = before.pair, after.pair
    if first and second and (first.first, first.second) == (second.first, second.second):
        tracks = (before.tracks[first.second], after.tracks[first.second])
        one, two = _line_repeats(before), _line_repeats(after)
        degrees = (one[2], two[2])
        board = math.sqrt(2.0) * _board_part(before, after, tracks)
        share = board / min(before.tracks[name].span.value for name in
                            (first.first, first.second))
        pairs += [
            _Pair("gain", None, "", _at_least(first.gain, one[0]), _at_least(second.gain, two[0]),
                  degrees, share),
            _Pair("offset", None, "V", _at_least(first.offset_volts, one[1]),
                  _at_least(second.offset_volts, two[1]), degrees, math.hypot(
                      board, _supply_part(before, after, tracks, abs(first.offset_volts.value)))),
            _Pair("mismatch_max", None, "%", first.mismatch_max_percent,
                  second.mismatch_max_percent, more=100.0 * share, bad=1),
            _Pair("play", None, "%", first.play_percent, second.play_percent, bad=1),
        ]
    times = (_return_time(before), _return_time(after))
    pairs.append(_Pair("return_time", None, "s", times[0][0], times[1][0],
                       (float(times[0][1] - 1), float(times[1][1] - 1)), bad=1))
    return pairs


def _scatter_pair(before: Findings, after: Findings, old: TrackFindings,
                  new: TrackFindings) -> _Pair:
    """Return the scatter of the returns of both, held against the wider law of the two.

    A pedal that sticks shows twice the scatter in one sweep of many without any change.
    """
    law = max((before.parameters.returns, after.parameters.returns), key=LAWS.index)
    doubt = math.hypot(*(scale_doubt(int(t.rest_levels.size), law) for t in (old, new)))
    return _Pair("rest_scatter", old.column, "V", old.rest_scatter, new.rest_scatter, bad=1,
                 ratio=doubt)


def _by_ratio(pair: _Pair) -> float:
    """Return the standard uncertainty of the change of a quantity that is told from its ratio.

    That of the logarithm times the logarithmic mean, so that change over uncertainty is the same
    for both. NaN where one of them is not above 0.
    """
    low, high = sorted((pair.before.value, pair.after.value))
    if not low > 0.0 or not math.isfinite(pair.ratio):
        return math.nan
    return pair.ratio * ((high - low) / math.log(high / low) if high > low else low)


def _repeating(level: Estimate, repeats: float) -> Estimate:
    """Return the level with the uncertainty that a change of it has on one board."""
    return Estimate(level.value, repeats if math.isfinite(repeats) else level.uncertainty)


def _span(track: TrackFindings) -> Estimate:
    rest = _repeating(track.rest, track.rest_repeats)
    full = _repeating(track.full, track.full_repeats)
    return Estimate(track.span.value, math.hypot(rest.uncertainty, full.uncertainty))


def _at_least(estimate: Estimate, least: float) -> Estimate:
    return Estimate(estimate.value, max(estimate.uncertainty, least))


def _line_repeats(findings: Findings) -> tuple[float, float, float]:
    """Return how well the pair's gain and offset repeat, and their degrees of freedom.

    From one recording to the next both tracks come to their ends only as well as rest and full
    travel repeat; gain is the ratio of the spans, offset what is left at rest. The fit's own
    uncertainty may be larger, never smaller.
    """
    pair = findings.pair
    assert pair is not None
    a, b = findings.tracks[pair.first], findings.tracks[pair.second]
    gain = abs(pair.gain.value) * math.hypot(
        _span(a).uncertainty / a.span.value, _span(b).uncertainty / b.span.value)
    offset = math.hypot(_repeating(b.rest, b.rest_repeats).uncertainty,
                        pair.gain.value * _repeating(a.rest, a.rest_repeats).uncertainty)
    fewest = min(x.size for t in (a, b) for x in (t.rest_levels, t.full_levels))
    return gain, offset, float(fewest - 1)


def _supply_part(before: Findings, after: Findings,
                 tracks: tuple[TrackFindings, TrackFindings], volts: float) -> float:
    """Return the standard uncertainty in volts from supplies that were not recorded.

    Of a sensor that does not follow its supply: from what each board measured its volts by. Each
    may lie anywhere within its tolerance: a rectangular distribution (JCGM 100:2008, 4.3.7).
    """
    return math.sqrt(sum(
        (findings.parameters.supply_tolerance * volts) ** 2 / 3.0
        for findings, track in zip((before, after), tracks, strict=True)
        if not (track.supply_recorded and findings.recording.pedal.ratiometric)))


def _board_part(before: Findings, after: Findings,
                tracks: tuple[TrackFindings, TrackFindings]) -> float:
    """Return the standard uncertainty in volts from two boards; nothing when it was one."""
    if not two_boards(before.recording, after.recording):
        return 0.0
    return math.sqrt(sum(
        (findings.parameters.converter_error_steps * track.step_volts) ** 2 / 3.0
        for findings, track in zip((before, after), tracks, strict=True)))


def _noise(track: TrackFindings) -> Estimate:
    """Return the noise at rest; a spread of n independent readings is known to 1/sqrt(2n).

    Where a track rests between two converter steps changes its rms too: NOISE_KNOWN.
    """
    slope = track.crossing_slope
    seen = (slope / math.pi if math.isfinite(slope) else 100.0) * track.rest_seconds
    if not math.isfinite(track.noise_volts) or seen < 2:
        return Estimate(track.noise_volts, math.nan)
    own = track.noise_volts * math.hypot(1.0 / math.sqrt(2.0 * seen), NOISE_KNOWN)
    # Below about half a step the rms depends on where the level lies between two steps.
    rough = track.step_volts / math.sqrt(12.0) if track.noise_volts < 0.5 * track.step_volts else 0
    return Estimate(track.noise_volts, math.hypot(own, rough))


def _return_time(findings: Findings) -> tuple[Estimate, int]:
    """Return the mean time of the quick lift-offs, and how many there were."""
    times = [r.seconds for r in findings.return_times if r.quick and math.isfinite(r.seconds)]
    if not times:
        return Estimate(math.nan, math.nan), 0
    mean = math.fsum(times) / len(times)
    if len(times) < 2:
        return Estimate(mean, math.nan), 1
    spread = math.sqrt(math.fsum((t - mean) ** 2 for t in times) / (len(times) - 1))
    step = findings.recording.step_s / math.sqrt(12.0)
    return Estimate(mean, math.hypot(spread / math.sqrt(len(times)), step)), len(times)


def _move(pair: _Pair, many: int) -> Move:
    u1, u2 = pair.before.uncertainty, pair.after.uncertainty
    change = pair.after.value - pair.before.value
    uncertainty = (_by_ratio(pair) if pair.ratio else
                   math.sqrt(u1 * u1 + u2 * u2 + pair.more ** 2))
    if not math.isfinite(uncertainty) or uncertainty <= 0:
        return Move(pair.name, pair.channel, pair.unit, pair.before.value, pair.after.value,
                    change, math.nan, None, None)
    degrees = effective_degrees(
        [(u1, pair.degrees[0]), (u2, pair.degrees[1]), (pair.more, math.inf)]
    ) if min(pair.degrees) >= 1 else 0.0
    if pair.ratio:
        degrees = math.inf
    real = abs(change) > coverage_factor(degrees, many) * uncertainty
    worse = (change * pair.bad > 0) if real and pair.bad else None
    return Move(pair.name, pair.channel, pair.unit, pair.before.value, pair.after.value, change,
                uncertainty, real, worse)


def _only_in(these: Sequence[Fault], those: Sequence[Fault]) -> tuple[Fault, ...]:
    """Return the first fault of each kind and channel that the others do not have."""
    known = {(f.kind, f.channel) for f in those}
    result: dict[tuple[str, str | None], Fault] = {}
    for fault in these:
        if (fault.kind, fault.channel) not in known:
            result.setdefault((fault.kind, fault.channel), fault)
    return tuple(sorted(result.values(), key=lambda f: (-f.gravity, f.time_s)))


def supply_doubts(findings: Findings) -> tuple[Finding, ...]:
    """Return what keeps the supply of a sweep from being what it is said to be."""
    fed = next(c for c in findings.claims if c.claim == SUPPLY)
    return tuple(f for f in findings.graded if f.gravity >= 1 and f.code in fed.because)
