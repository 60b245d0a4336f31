"""One of a thing is told in the singular, nothing has no minus, and a sentence ends once.

Plain grammar: no outside source. The recordings are the sample sweeps and simulated pedals.
"""

import re
import shutil
from dataclasses import replace

import numpy as np
from places import ROOT
from said import as_texts

from analysis.key_on import analyse_key_on
from analysis.model.estimate import Estimate
from analysis.model.finding import Reason
from analysis.pedal.faults.fault import Fault
from analysis.pedal.findings import analyse
from analysis.pedal.verdict import verdict
from analysis.senders.calibration import MeterSpec
from analysis.simulation import pedal_named, simulate_sweep
from analysis.simulation.car import Car, drive
from bench.command_line import main
from bench.files.exports.calibration_text import calibration_text
from bench.files.exports.findings_text import findings_text
from bench.files.exports.key_on_text import key_on_text
from bench.files.exports.text_layout import many, number
from bench.report.tables import pair_line
from bench.services.key_on import open_key_on
from bench.services.report import write_calibration
from bench.services.sender_check import SenderCheckOptions, calibrate_taken, take_points
from bench.services.sender_stated import sender_from
from bench.window.finding_view import place_of
from bench.wording.reasons import in_words
from bench.wording.senders.verdict import meter_text

SAMPLES = ROOT / "sample_sweeps"


def swept():
    return analyse(simulate_sweep(pedal_named("healthy"), 100.0, cycles=6, quick=3,
                                  seed=4).recording)


def test_one_is_no_plural():
    assert [many(k, "key-on") for k in (0, 1, 2)] == ["0 key-ons", "1 key-on", "2 key-ons"]
    assert meter_text(MeterSpec(0.5, 1.0, 0.1)) == "±(0.5 % of reading + 1 digit), resolution 0.1"
    assert "+ 2 digits" in meter_text(MeterSpec(0.5, 2.0, 0.1))


def test_cycles_are_listed_as_a_person_lists_them():
    """No reading of either track with the key off: no key-on has a rest before it."""
    log, truth = drive(Car(cycles=3))
    on = np.zeros(log.rows, dtype=bool)
    for start, stop in zip(truth.key_on_s, truth.key_off_s, strict=True):
        on |= (log.time_s >= start) & (log.time_s <= stop)
    blind = tuple(replace(c, readings=np.where(on, c.readings, np.nan))
                  if c.role == "track" else c for c in log.channels)
    notes = " ".join(map(in_words, analyse_key_on(replace(log, channels=blind)).notes))
    assert "in cycles 1, 2 and 3: " in notes


def test_a_log_of_one_key_on_says_so():
    found = open_key_on(SAMPLES / "synthetic_key_on_quiet_car.csv")
    text = key_on_text(replace(found, cycles=found.cycles[:1]))
    assert "\n1 key-on, " in text
    assert not re.search(r"(?<![0-9])1 key-ons", text)


def test_a_folder_of_one_recording_says_so(tmp_path, capsys):
    shutil.copy(SAMPLES / "synthetic_healthy_pair.csv", tmp_path / "one.csv")
    assert main(["trend", str(tmp_path)]) == 0
    assert "1 recording summarised, 0 not used" in capsys.readouterr().err


def test_one_pair_of_runs_says_so(tmp_path):
    path = tmp_path / "points.csv"
    levels = (0.5, 1.5, 2.5, 3.5, 4.5)
    path.write_text("reading,meter\n" + "".join(
        f"{v + lag},{5 * v:.2f}\n" for lag, run in ((0.0, levels), (0.004, levels[::-1]))
        for v in run), encoding="utf-8")
    parameters = SenderCheckOptions(sender_from("divider", ["top_ohms=40k", "bottom_ohms=10k",
                                                 "highest_volts=24"]))
    result = calibrate_taken(take_points(path, parameters), parameters)
    page = write_calibration(tmp_path / "page.html", result).read_text("utf-8")
    for text in (calibration_text(result), page):
        assert re.search(r"from 1 pair of runs", text, re.IGNORECASE)


def test_what_is_left_after_calibration_is_not_told_as_how_far_off_the_channel_is(tmp_path):
    """Shown 5.25 V for 5.00 V is 0.25 V off; a line through such points leaves nothing."""
    path = tmp_path / "points.csv"
    path.write_text("reading,meter\n" + "".join(
        f"{1.05 * v},{5 * v:.2f}\n" for v in (0.5, 1.0, 2.0, 3.0, 4.0)), encoding="utf-8")
    parameters = SenderCheckOptions(sender_from("divider", ["top_ohms=40k", "bottom_ohms=10k",
                                                 "highest_volts=24"]))
    text = calibration_text(calibrate_taken(take_points(path, parameters), parameters))
    head = next(k for k, line in enumerate(text.splitlines()) if "at input" in line)
    names, units, first, *_ = text.splitlines()[head:]
    assert "off by" not in names
    end = names.index("meter less") + len("meter less")
    assert units[:end].endswith("curve, V")
    assert abs(float(first[:end].split()[-1])) < 0.01


def test_a_negative_offset_is_taken_away_and_not_added():
    found = swept()
    pair = found.pair
    for volts, told in ((-0.2698, "x a - 0.2698 +- 0.0011 V"), (0.2698, "x a + 0.2698 +- "),
                        (-0.00001, "x a + 0.0000 +- ")):
        shown = replace(found, pair=replace(pair, offset_volts=Estimate(volts, 0.0011)))
        assert told in findings_text(shown)


def test_what_rounds_to_nothing_has_no_minus():
    assert number(-0.3, 0, "%") == "0 %"
    assert number(-0.6, 0, "%") == "-1 %"
    found = swept()
    shown = replace(found, pair=replace(found.pair, mismatch_at_travel_percent=-0.2))
    assert "at 0 %\n" in findings_text(shown)


def test_no_page_tells_a_place_at_minus_nothing():
    """The pair's worst place lies a fifth of a per cent before 0 %: every page says 0 %."""
    found = swept()
    pair = replace(found.pair, mismatch_at_travel_percent=-0.2,
                   mismatch_max_percent=Estimate(12.0, 0.1))
    said = verdict(
        found.tracks, pair, (), found.dead_bands, found.return_times, found.parameters, None
    )
    shown = replace(found, pair=pair, faults=(Fault(
        "dropout", "a", 3.0, 3.1, -0.2, 2, Reason("as told", {"words": "x"})),))
    text = " ".join([*as_texts(said), *(b.text for b in pair_line(shown)),
                     findings_text(shown), place_of(shown.faults[0])])
    assert "0 %" in text
    assert "-0 %" not in text


def test_a_sentence_that_is_the_reason_ends_once():
    found = swept()
    bands = {name: replace(band, weak="So no settings are given.")
             for name, band in found.dead_bands.items()}
    text = findings_text(replace(found, dead_bands=bands))
    assert "NOT PROVEN: So no settings are given.\n" in text
    assert ".." not in text.replace("...", "")
