"""Nothing is issued beyond full travel, a fault limit or a rail: no value then, and its reason."""

import json
import math
import shutil
import subprocess
from dataclasses import replace

import pytest
from places import ROOT
from said import as_text

from analysis.key_on import analyse_key_on
from analysis.parameters import Parameters
from analysis.pedal.findings import decide
from analysis.pedal.settings import Setting
from analysis.simulation.car import Car, CarTrack, drive
from bench.files.exports.c_header import settings_c_header
from bench.files.exports.csv_settings import settings_csv
from bench.files.exports.export_document import Sheet
from bench.files.exports.json_settings import settings_json
from bench.files.exports.toml_settings import settings_toml
from bench.services.findings import open_findings

SAMPLES = ROOT / "sample_sweeps"
CC = shutil.which("cc") or shutil.which("gcc")


@pytest.fixture(scope="module", params=["healthy_pair", "opposed_pair", "half_slope_pair"])
def sweep(request):
    return open_findings(SAMPLES / f"synthetic_{request.param}.csv")


def value(settings, name, channel):
    return next(s for s in settings if (s.name, s.channel) == (name, channel))


# 5 V is the most that can be wished; 3.6 V passes the 3.5 V of travel of these samples
# (sample_sweeps/README.md); by hand 0.75 V and 4.4 V lie beyond 5 V.
@pytest.mark.parametrize("allowance", [0.03, 1.0, 1.7, 3.4, 3.6, 4.4, 5.0])
def test_no_start_of_travel_lies_beyond_full_travel_a_fault_limit_or_a_rail(sweep, allowance):
    found = decide(sweep, replace(Parameters(), car_allowance_volts=allowance))
    for name, track in found.tracks.items():
        sign = 1.0 if track.direction == "rising" else -1.0
        start, release = (value(found.settings, n, name) for n in ("start_of_travel", "release"))
        low, high = (value(found.settings, n, name).value for n in ("fault_low", "fault_high"))
        if allowance > abs(track.span.value):
            assert math.isnan(start.value)
            assert math.isnan(release.value)
            assert "beyond" in as_text(start.why)
            assert f"{track.full.value:.3f} V" in as_text(start.why)
            assert math.isnan(found.dead_bands[name].start_of_travel_volts)
        if math.isfinite(start.value):
            assert sign * (track.full.value - start.value) > 0
            assert (low if math.isfinite(low) else 0.0) < start.value < (
                high if math.isfinite(high) else track.nominal_volts)
    for setting in found.settings:
        if setting.unit == "V" and math.isfinite(setting.value):
            assert 0.0 <= setting.value <= 5.0


def test_what_the_car_adds_beyond_full_travel_gives_no_value_either():
    """Ground offsets of 0.8 V that scatter by 0.4 V: four key-ons bound nothing below 3.5 V."""
    bench = open_findings(SAMPLES / "synthetic_healthy_pair.csv")
    tracks = tuple(CarTrack(n, t.rest.value, t.full.value) for n, t in bench.tracks.items())
    log, _ = drive(Car(cycles=4, rate_hz=200.0, tracks=tracks, ground_volts=0.8,
                       ground_scatter_volts=0.4))
    found = analyse_key_on(log, sweep=bench, contactor="closed")
    assert found.issued
    assert all(c.volts > 3.5 for c in found.car.values())
    for setting in found.settings:
        if setting.name in ("start_of_travel", "release"):
            assert math.isnan(setting.value)
            assert "beyond its full travel" in as_text(setting.why)


WHY = 'what lifts it is "unknown" */ \\ beyond its full travel'
NONE = (Setting("rest", "a", 0.75, "V", "seen"),
        Setting("start_of_travel", "a", math.nan, "V", WHY, "up"),
        Setting("release", "a", math.nan, "V", WHY, "up"),
        Setting("fault_low", "a", math.nan, "V", "clipped", "up"))


@pytest.mark.parametrize("make", [settings_c_header, settings_csv, settings_json, settings_toml])
def test_every_format_says_why_there_is_no_value(make):
    assert "beyond its full travel" in make(Sheet(NONE))


def test_json_has_null_and_its_reason():
    start = json.loads(settings_json(Sheet(NONE)))["settings"][1]
    assert start["value"] is None
    assert start["why"] == WHY


@pytest.mark.skipif(CC is None, reason="no C compiler here")
def test_a_c_header_without_a_start_of_travel_does_not_compile_unless_it_is_asked_to(tmp_path):
    header = tmp_path / "pedal.h"
    header.write_text(settings_c_header(Sheet(NONE)))
    (tmp_path / "main.c").write_text('#include "pedal.h"\nint main(void) { return 0; }\n')
    words = [CC, "-std=c90", "-pedantic-errors", "-c", str(tmp_path / "main.c"), "-o",
             str(tmp_path / "main.o")]
    refused = subprocess.run(words, capture_output=True, text=True)
    assert refused.returncode != 0
    assert "beyond its full travel" in refused.stderr
    assert "start_of_travel" in refused.stderr
    taken = subprocess.run([*words, "-DPEDAL_ACCEPT_UNDETERMINED"], capture_output=True, text=True)
    assert taken.returncode == 0, taken.stderr


@pytest.mark.skipif(CC is None, reason="no C compiler here")
def test_a_c_header_with_its_values_compiles_as_it_is(tmp_path):
    found = open_findings(SAMPLES / "synthetic_healthy_pair.csv")
    header = tmp_path / "pedal.h"
    header.write_text(settings_c_header(found))
    (tmp_path / "main.c").write_text('#include "pedal.h"\nint main(void) { return 0; }\n')
    done = subprocess.run([CC, "-std=c90", "-pedantic-errors", "-Werror", "-c",
                           str(tmp_path / "main.c"), "-o", str(tmp_path / "main.o")],
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
