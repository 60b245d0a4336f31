"""A board check, as text for people and as JSON for machines."""

import json
import math
from dataclasses import asdict

from analysis.signal.board_check import IDEAL_NOISE_LSB, BoardCheck, ChannelCheck
from bench.wording.reasons import in_words

# As quick as a pedal falls (common practice, no source).
LIFT_OFF_US = 20_000.0


def board_check_text(check: BoardCheck) -> str:
    """Return the check as a page of text."""
    lines = [f"{check.board_name}: {check.rows} rows in {check.seconds:.1f} s", ""]
    lines += [f"  {name:<22}{text}" for name, text in _facts(check) if text]
    lines += ["", f"  input       mean     noise (LSB, ideal {IDEAL_NOISE_LSB:.2f})  "
              "effective bits  codes seen"]
    lines += [_row(channel) for channel in check.channels]
    lines += ["", *(f"- {in_words(sentence)}" for sentence in check.sentences)]
    return "\n".join(lines) + "\n"


def board_check_json(check: BoardCheck) -> str:
    """Return the check as JSON; what is not known is null."""
    known = {key: _plain(value) for key, value in asdict(check).items()}
    known["sentences"] = [in_words(sentence) for sentence in check.sentences]
    return json.dumps({"schema": 1, **known}, indent=2) + "\n"


def _facts(check: BoardCheck) -> list[tuple[str, str]]:
    clock = check.clock
    error = clock.error_ppm
    return [
        ("rows per second", _number(clock.rate_hz, ".2f")),
        ("clock against host", f"{error.value:+.0f} ppm +- {error.uncertainty:.0f} (1 sd)"
         if math.isfinite(error.value) else "not known: the board sends no time"),
        ("intervals", f"rms {clock.jitter_us:.0f} us, worst {clock.worst_us:.0f} us off"
         if math.isfinite(clock.jitter_us) else ""),
        ("lost", f"{check.lost_samples} samples, {check.refused} lines or frames refused"
         + ("" if check.overruns is None else f", {check.overruns} ticks missed by the board")),
        ("line used", "" if check.line_percent is None else
         f"{check.line_percent:.0f} % (means nothing on a board with its own USB)"),
        ("supply", "" if check.supply_volts is None else
         f"{check.supply_volts:.2f} V by the board's own reference (+-10 % unless calibrated)"),
        ("inputs apart", "" if not check.apart_us or len(check.channels) < 2 else
         f"{check.apart_us:.0f} us, {check.apart_us / LIFT_OFF_US * 100.0:.1f} % of travel in a "
         "lift-off of 20 ms; the analysis of a sweep puts them back to one time"),
        ("one step", _number(check.step_volts * 1000, ".3f", " mV")),
        ("smallest dead band", "" if not math.isfinite(check.resolution_volts) else
         f"{check.resolution_volts * 1000:.1f} mV at the pin, {check.resolution_percent:.2f} % of "
         "a usual pedal's travel"),
    ]


def _row(channel: ChannelCheck) -> str:
    noise = "moved" if channel.moved else f"{channel.noise_lsb:.2f}"
    bits = _number(channel.effective_bits, ".1f")
    volts = _number(channel.mean_volts, ".4f", " V") or f"{channel.mean:.1f}"
    error = "" if channel.error_lsb is None else f"   {channel.error_lsb:+.2f} LSB off"
    return (f"  {channel.column:<10}{volts:>10}  {noise:>10}{bits:>22}"
            f"{channel.codes.seen:>14}{error}")


def _number(value: float, form: str, unit: str = "") -> str:
    return f"{value:{form}}{unit}" if math.isfinite(value) else ""


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
