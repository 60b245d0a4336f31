"""What a board and its converter are good for: noise, codes, clock, losses, head-room, verdict.

Terms are those of IEEE Std 1241 (terminology and test methods for analogue-to-digital
converters): code, LSB, DNL, missing code, effective number of bits. A steady or slowly moving
input is enough; no generator is needed. Formulas: docs/boards.md.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.model.converter import CodeRange
from analysis.model.errors import SweepTooShort
from analysis.model.estimate import Estimate
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.signal.code_density import CodeDensity, code_density
from analysis.signal.reference import reference_contradicted
from analysis.statistics.bounds import crossing_level

IDEAL_NOISE_LSB = 12.0**-0.5
FEWEST_ROWS = 200
# A converter's own error allowed for in the verdict, in LSB: offset and linearity of the usual
# on-chip converters are about this (common practice, no source).
CONVERTER_ERROR_LSB = 1.0
# A pedal of the usual kind uses this share of its supply (0.7 to 4.2 V of 5 V; common practice).
USUAL_SHARE = 0.7
KEY_ON_HOURS = 1000.0
ALLOWED_CROSSINGS = 0.05
_FINE_PERCENT, _USABLE_PERCENT = 0.5, 2.0
_WINDOWS = 20
_FULL_LINE_PERCENT = 90.0


@dataclass(frozen=True)
class Capture:
    """Hold what a board sent while it was checked.

    readings: (n, channels) counts; time_s: (n,) by the board's clock, NaN where it has none;
    lost_before: (n,). arrival_rows: (m,) how many rows had come with each piece, arrival_s: (m,)
    when, by the host's clock. refused: damaged lines or frames. baud: None without a real line.
    says: other words of the board's hello. tracks: which columns are the pedal's; when all of
    them moved, no other input (such as the supply's) speaks for them.
    """

    board_name: str
    columns: tuple[str, ...]
    readings: NDArray[np.int64]
    time_s: Array
    lost_before: NDArray[np.int64]
    arrival_rows: NDArray[np.int64]
    arrival_s: Array
    seconds: float
    bytes_received: int
    refused: int = 0
    full_scale: int | None = None
    reference_volts: float | None = None
    rate_hz: float | None = None
    usable_low: int | None = None
    usable_high: int | None = None
    baud: int | None = None
    says: Mapping[str, str] = field(default_factory=dict)
    tracks: tuple[str, ...] = ()

    @property
    def codes(self) -> CodeRange:
        """Return which raw readings the board says its converter gives."""
        return CodeRange(self.full_scale, self.usable_low, self.usable_high)


@dataclass(frozen=True)
class ChannelCheck:
    """Hold what one input showed; LSB = one converter step.

    moved: the input was moved, so that noise_lsb is NaN and codes are judged over the range.
    noise_lsb: rms about a straight line; ideal is 0.289 (LSB/sqrt(12)) or, on one code, 0.
    input_noise_lsb: what remains of it without the ideal quantisation noise.
    effective_bits: log2(full scale/(sqrt(12) noise)), at most the converter's own; NaN on one
        single code, where nothing can be said.
    mean, mean_volts: of the readings. expected_volts: what the user put there, None if unknown;
        error_lsb then is the difference.
    outside_usable_percent: share of readings beyond what the board calls usable.
    crossing_slope: of the noise, 1/s (Rice 1945). codes: the code density.
    """

    column: str
    moved: bool
    noise_lsb: float
    input_noise_lsb: float
    effective_bits: float
    mean: float
    mean_volts: float
    expected_volts: float | None
    error_lsb: float | None
    outside_usable_percent: float
    crossing_slope: float
    codes: CodeDensity


@dataclass(frozen=True)
class ClockCheck:
    """Hold the board's clock against the host's, and its intervals.

    error_ppm: positive when the board's clock runs fast. jitter_us: rms of the intervals about
    their median; worst_us: the largest deviation. Both are NaN without a board clock.
    """

    error_ppm: Estimate
    rate_hz: float
    jitter_us: float
    worst_us: float


@dataclass(frozen=True)
class BoardCheck:
    """Hold the result of a board check.

    line_percent: how much of the line's speed is used, None without a real line.
    supply_volts: by the board's own reference. resolution_volts: the smallest dead band, at the
    pin, that this board can support; resolution_percent: in % of the travel of a usual pedal.
    verdict: "fine", "usable", "too coarse", "unknown"; sentences: what it shows, gravest first.
    apart_us: from the reading of one input to that of the next, None where the board does not say.
    """

    board_name: str
    rows: int
    seconds: float
    channels: tuple[ChannelCheck, ...]
    clock: ClockCheck
    lost_samples: int
    refused: int
    overruns: int | None
    line_percent: float | None
    supply_volts: float | None
    step_volts: float
    resolution_volts: float
    resolution_percent: float
    verdict: str
    sentences: tuple[Reason, ...]
    apart_us: float | None = None


def check_board(capture: Capture, expected_volts: Mapping[str, float] | None = None) -> BoardCheck:
    """Return what the capture shows; expected_volts: by column, 0 for a grounded input.

    Raise SweepTooShort with fewer than 200 rows.
    """
    rows = len(capture.readings)
    if rows < FEWEST_ROWS:
        raise SweepTooShort(
            "check too short", rows=rows, seconds=capture.seconds, needed_rows=FEWEST_ROWS)
    scale, reference = capture.full_scale, capture.reference_volts
    step = reference / scale if reference is not None and scale else float("nan")
    wanted = expected_volts or {}
    clock = _check_clock(capture)
    channels = tuple(
        _check_channel(capture, k, step, clock.rate_hz, wanted.get(column))
        for k, column in enumerate(capture.columns))
    lost = int(capture.lost_before.sum())
    line = None
    if capture.baud and capture.seconds > 0:
        # A start bit, eight data bits, a stop bit.
        line = 100.0 * capture.bytes_received / capture.seconds / (capture.baud / 10.0)
    supply = _number(capture.says.get("supply_mv"))
    overruns = _number(capture.says.get("overruns"))
    resolution = _resolution(_speaking(channels, capture), step)
    percent = 100.0 * resolution / (USUAL_SHARE * reference) if reference else float("nan")
    verdict = _verdict(percent, lost, rows)
    check = BoardCheck(
        capture.board_name, rows, capture.seconds, channels, clock, lost, capture.refused,
        None if overruns is None else int(overruns), line,
        None if supply is None else supply / 1000.0, step, resolution, percent, verdict, (),
        _number(capture.says.get("channel_us")))
    return BoardCheck(**{**check.__dict__, "sentences": _sentences(check, capture)})


def _check_channel(capture: Capture, k: int, step: float, rate_hz: float,
                   expected: float | None) -> ChannelCheck:
    codes = capture.readings[:, k]
    values = codes.astype(np.float64)
    density = code_density(codes)
    noise = own = bits = slope = float("nan")
    if not density.moved:
        place = np.arange(values.size, dtype=np.float64)
        rest = values - np.polyval(np.polyfit(place, values, 1), place)
        noise = float(np.sqrt(np.mean(rest**2)))
        own = float(np.sqrt(max(0.0, noise**2 - IDEAL_NOISE_LSB**2)))
        if capture.full_scale and noise > 0:
            bits = float(np.log2(
                capture.codes.count / (np.sqrt(12.0) * max(noise, IDEAL_NOISE_LSB))))
        if noise > 0:
            correlation = float(np.mean(rest[1:] * rest[:-1]) / noise**2)
            # The zero crossings per sample of a normal sequence, arccos(rho)/pi, put into Rice's
            # formula, slope/pi per second.
            slope = rate_hz * float(np.arccos(np.clip(correlation, -1.0, 1.0)))
    mean = float(np.mean(values))
    return ChannelCheck(
        capture.columns[k], density.moved, noise, own, bits, mean, mean * step, expected,
        None if expected is None else mean - expected / step,
        100.0 * float(np.mean(capture.codes.outside(codes))), slope, density)


def _check_clock(capture: Capture) -> ClockCheck:
    time_s = capture.time_s
    rows = capture.arrival_rows
    unknown = Estimate(float("nan"), float("nan"))
    span = float(capture.arrival_s[-1] - capture.arrival_s[0]) if rows.size > 1 else 0.0
    rate = float(rows[-1] - rows[0]) / span if span > 0 else float("nan")
    if not np.all(np.isfinite(time_s)):
        return ClockCheck(unknown, rate, float("nan"), float("nan"))
    steps = np.diff(time_s)[capture.lost_before[1:] == 0]
    usual = float(np.median(steps)) if steps.size else float("nan")
    rate = 1.0 / usual if usual > 0 else rate
    error = unknown
    if rows.size >= 2 * _WINDOWS:
        board = time_s[rows - 1]
        # Data arrive late, never early: in each window the piece that was under way the shortest
        # time shows the clock; a line through those points has the slope of clock against clock.
        delay = capture.arrival_s - board
        parts = np.array_split(np.arange(rows.size), _WINDOWS)
        best = np.array([part[np.argmin(delay[part])] for part in parts])
        x, y = capture.arrival_s[best], delay[best]
        x = x - x.mean()
        slope = float(np.sum(x * y) / np.sum(x * x))
        rest = y - y.mean() - slope * x
        scatter = np.sqrt(np.sum(rest**2) / (_WINDOWS - 2) / np.sum(x * x))
        error = Estimate(-slope * 1e6, float(scatter) * 1e6)
    deviation = (steps - usual) * 1e6
    return ClockCheck(error, rate, float(np.sqrt(np.mean(deviation**2))),
                      float(np.max(np.abs(deviation))))


def _speaking(channels: tuple[ChannelCheck, ...], capture: Capture) -> list[ChannelCheck]:
    """Return the inputs whose noise is known: those that held still, a track among them."""
    still = [c for c in channels if not c.moved]
    tracks = {c.column for c in channels} & set(capture.tracks)
    return still if not tracks or any(c.column in tracks for c in still) else []


def _resolution(still: list[ChannelCheck], step: float) -> float:
    """Return the smallest dead band in volts at the pin: noise crossings, and the converter.

    The worst input that held still counts.
    """
    if not still or not np.isfinite(step):
        return float("nan")
    return (max(map(_crossing_lsb, still)) + CONVERTER_ERROR_LSB) * step


def _crossing_lsb(channel: ChannelCheck) -> float:
    """Return what noise adds, in LSB; an input on one single code shows none."""
    if not np.isfinite(channel.crossing_slope):
        return 0.0
    return crossing_level(max(channel.noise_lsb, IDEAL_NOISE_LSB), channel.crossing_slope,
                          KEY_ON_HOURS, ALLOWED_CROSSINGS)


def _verdict(percent: float, lost: int, rows: int) -> str:
    if not np.isfinite(percent):
        return "unknown"
    if percent > _USABLE_PERCENT:
        return "too coarse"
    return "fine" if percent <= _FINE_PERCENT and lost <= rows / 1000 else "usable"


def _sentences(check: BoardCheck, capture: Capture) -> tuple[Reason, ...]:
    said: list[Reason] = []
    moved = tuple(c.column for c in check.channels if c.moved)
    if check.lost_samples or check.refused:
        said.append(Reason("board lost samples", {
            "lost": check.lost_samples, "refused": check.refused, "rows": check.rows}))
    contradicted = reference_contradicted(capture.says.get("supply_mv"), capture.reference_volts)
    if contradicted is not None:
        said.append(contradicted)
    if check.overruns:
        said.append(Reason("board missed ticks", {"ticks": check.overruns}))
    if check.line_percent is not None and check.line_percent > _FULL_LINE_PERCENT:
        said.append(Reason("line full", {"percent": check.line_percent}))
    for channel in check.channels:
        said.extend(_about(channel))
    if np.isfinite(check.clock.error_ppm.value) and (
            abs(check.clock.error_ppm.value) > 2000 + 3 * check.clock.error_ppm.uncertainty):
        said.append(Reason("clock off", {"error_ppm": check.clock.error_ppm.value}))
    if capture.full_scale is None or capture.reference_volts is None:
        said.append(Reason("no volts to tell", {
            "still": tuple((c.column, c.noise_lsb) for c in check.channels if not c.moved),
            "lost": bool(check.lost_samples)}))
    elif not np.isfinite(check.resolution_volts):
        said.append(Reason("all inputs moved", {"moved": moved}))
    else:
        worst = max(_speaking(check.channels, capture), key=_crossing_lsb)
        said.append(Reason("board for a dead band", {
            "verdict": check.verdict, "volts": check.resolution_volts,
            "percent": check.resolution_percent, "track": worst.column}))
        if moved:
            said.append(Reason("inputs moved", {"moved": moved}))
    return tuple(said)


def _about(channel: ChannelCheck) -> list[Reason]:
    said = []
    of = {"track": channel.column}
    if channel.outside_usable_percent > 0:
        said.append(Reason("readings not believed", {
            **of, "percent": channel.outside_usable_percent}))
    if channel.codes.missing:
        said.append(Reason("codes missing", {**of, "codes": channel.codes.missing}))
    if channel.codes.sticky:
        said.append(Reason("codes sticky", {**of, "codes": channel.codes.sticky}))
    if not channel.moved and channel.codes.seen == 1:
        said.append(Reason("input on one code", {**of, "at_zero": channel.mean == 0}))
    if channel.error_lsb is not None and abs(channel.error_lsb) > 2.0:
        said.append(Reason("input off", {
            **of, "volts": channel.mean_volts, "stated_volts": channel.expected_volts,
            "error_lsb": channel.error_lsb}))
    return said


def _number(text: str | None) -> float | None:
    try:
        return None if text is None else float(text)
    except ValueError:
        return None
