"""Readings in volts: the converter's step is found from their grid, stated, or asked for.

The true step is that of the converter the readings are made with, reference / 2^bits (IEEE Std
1241), rounded to the decimals a log prints.
"""

import json

import numpy as np
import pytest
from said import as_texts

from analysis.model.recording import Channel
from analysis.model.step_estimate import grid_step
from bench.command_line import main
from bench.files.exports.export_document import sheet_of
from bench.files.recording_file import read_recording
from bench.report.content import Particulars, single
from bench.report.document import Table
from bench.services.findings import open_findings

RATE = 200.0


def _pedal(seconds: float = 60.0) -> np.ndarray:
    """Return the travel of eight slow presses with rests between, 0 to 1."""
    t = np.arange(0.0, seconds, 1.0 / RATE)
    return np.clip(1.6 * (0.5 - 0.5 * np.cos(2 * np.pi * t / 7.5)) - 0.3, 0.0, 1.0)


def _volts(bits: int | None, decimals: int | None, seed: int = 1,
           gain: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    travel = _pedal()
    volts = 0.75 + 3.4 * gain * travel + 0.02 * np.sin(9 * travel) * (gain - 1)
    volts = volts + rng.normal(0.0, 0.001, volts.size)
    if bits is not None:
        volts = np.floor(volts * 2**bits / 5.0 + 0.5) * 5.0 / 2**bits
    return volts if decimals is None else np.round(volts, decimals)


@pytest.mark.parametrize(("bits", "decimals"), [
    (8, 2), (8, 3), (10, 3), (10, 4), (10, None), (12, 4), (12, 5), (12, None)])
def test_the_grid_gives_the_converters_step(bits, decimals):
    assert grid_step(_volts(bits, decimals)) == pytest.approx(5.0 / 2**bits, rel=0.01)


def test_decimals_coarser_than_the_converter_are_the_step():
    """Two decimals of a 12-bit converter step by 10 mV, three by 1 mV."""
    assert grid_step(_volts(12, 2)) == pytest.approx(0.010, rel=0.02)
    assert grid_step(_volts(12, 3)) == pytest.approx(0.001, rel=0.02)


@pytest.mark.parametrize(("every", "bits", "decimals", "step"), [
    (10, 16, 3, 0.001), (10, None, 3, 0.001), (10, 12, 4, 5.0 / 4096),
    (10, 12, 3, 0.001), (20, 10, 4, 5.0 / 1024)])
def test_a_slow_log_that_jumps_over_most_levels_still_shows_its_grid(every, bits, decimals, step):
    """At 10 and 20 Hz most of the levels between rest and full travel are never read."""
    for seed in range(5):
        values = _volts(bits, decimals, seed)[::every]
        assert grid_step(values) == pytest.approx(step, rel=0.01)


def test_levels_by_chance_are_on_no_grid():
    """Numbers without any grid, few and many, at even and at crowded places (seeded dice)."""
    rng = np.random.default_rng(9)
    for count in (20, 50, 200, 1000):
        for _ in range(100):
            assert np.isnan(grid_step(rng.uniform(0.5, 4.5, count)))
            assert np.isnan(grid_step(np.r_[rng.normal(0.8, 0.001, count),
                                            rng.uniform(0.8, 4.2, count)]))


@pytest.mark.parametrize("values", [
    _volts(None, None), _volts(None, 6), np.full(500, 2.5), np.linspace(0.0, 5.0, 8),
    np.full(20, np.nan), np.empty(0)])
def test_readings_on_no_grid_have_no_step(values):
    assert np.isnan(grid_step(values))


def test_a_stated_step_wins_and_passes_the_divider():
    channel = Channel("a", "track", _volts(10, 3), "V", scale=2.0, reading_step=0.003)
    assert channel.step_volts == pytest.approx(0.006)
    assert not channel.step_estimated
    assert Channel("a", "track", _volts(10, 3), "V", scale=2.0).step_estimated


def _import(tmp_path, capsys, bits, decimals, *more):
    log, out = tmp_path / "log.csv", tmp_path / "made.csv"
    a, b = _volts(bits, decimals), _volts(bits, decimals, 2, 0.97)
    shown = 9 if decimals is None else decimals
    log.write_text("time (s),a (V),b (V)\n" + "".join(
        f"{k / RATE:.3f},{x:.{shown}f},{y:.{shown}f}\n"
        for k, (x, y) in enumerate(zip(a, b, strict=True))))
    assert main(["import", str(log), "--out", str(out), *more]) == 0
    said = capsys.readouterr().err
    assert main(["findings", str(out), "--more"]) == 0
    return out, said, capsys.readouterr().out


def test_ten_bits_in_volts_keep_their_line_of_the_budget(tmp_path, capsys):
    out, said, text = _import(tmp_path, capsys, 10, 3)
    assert "One converter step of a is 4.88 mV at the sensor, estimated from the grid" in said
    assert "     4.9 mV  converter (assumed)" in text
    assert "0.0 mV  converter" not in text
    assert "was estimated from the grid its readings lie on" in " ".join(text.split())
    assert open_findings(out).dead_bands["a"].weak is None


def test_volts_on_no_grid_are_asked_for(tmp_path, capsys):
    out, said, text = _import(tmp_path, capsys, None, None)
    assert "The converter's step of a is not known" in said
    assert "--step-volts" in said
    assert "?" in next(line for line in text.splitlines() if "converter (not known)" in line)
    assert "0.0 mV  converter" not in text
    assert "one step        ? (not known)" in text
    found = open_findings(out)
    assert any("allows nothing for the converter" in w for w in as_texts(found.warnings))
    page = single(found, sheet_of(found), Particulars())
    row = next(row for block in page.blocks if isinstance(block, Table)
               for row in block.rows if row[0] == "Converter")
    assert row[1] == "–"
    assert row[3] == "not known"
    assert main(["findings", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["tracks"]["a"]["step_volts"] is None


def test_the_step_can_be_stated(tmp_path, capsys):
    out, said, text = _import(tmp_path, capsys, None, None, "--step-volts", "0.0012")
    assert "converter" not in said
    assert "     1.2 mV  converter (assumed)" in text
    assert read_recording(out).channel("a").reading_step == 0.0012
    assert main(["import", str(tmp_path / "log.csv"), "--step-volts", "0"]) == 2
    assert "--step-volts is 0.0; give a number above 0" in capsys.readouterr().err
