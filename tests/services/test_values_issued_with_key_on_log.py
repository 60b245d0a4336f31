"""Values issued anew with a key-on log: the same from every verb, in every format."""

import json
import math
from dataclasses import replace

import pytest
from places import ROOT
from said import as_texts

from bench.command_line import main
from bench.files.exports.export_document import sheet_of
from bench.files.exports.units import convert
from bench.files.recording_file import read_recording, write_recording
from bench.services.key_on import open_in_car, open_key_on

SAMPLES = ROOT / "sample_sweeps"
LOG = SAMPLES / "synthetic_key_on_ground_offset.csv"
SWEEP = SAMPLES / "synthetic_healthy_pair.csv"


@pytest.mark.parametrize("contactor", [None, "closed"])
def test_watch_and_settings_issue_the_same_values(contactor):
    """One log, one sweep, one answer; that they agree is the check, no source."""
    watched = open_key_on(LOG, None, (), SWEEP, contactor)
    carried = open_in_car(SWEEP, LOG, None, contactor)
    assert watched.issued
    assert [(s.name, s.channel) for s in carried.settings] == [
        (s.name, s.channel) for s in watched.settings]
    for one, other in zip(watched.settings, carried.settings, strict=True):
        assert one.value == other.value or (math.isnan(one.value) and math.isnan(other.value))
    # Each track has its own allowance.
    assert carried.car["b"].volts != carried.car["a"].volts
    # What must be known with the values goes with them: every sheet carries the warnings.
    assert any(LOG.name in w for w in as_texts(carried.warnings))
    # The 45 mV of ground offset and the noise pass the sweep's own start of travel (KEY_ON.md).
    assert watched.verdict.applied
    assert any("power would have been applied" in w for w in as_texts(carried.warnings))
    assert list(sheet_of(carried).warnings) == list(as_texts(carried.warnings))


def test_every_format_carries_them(tmp_path, capsys):
    """JSON, a filled template and the text say the start of travel that `watch` prints."""
    found = open_key_on(LOG, None, (), SWEEP, "closed")
    wanted = {s.channel: s for s in found.settings if s.name == "start_of_travel"}
    sheet = sheet_of(tuple(found.settings))
    volts = {c: convert(s, "", sheet).rounded(3) for c, s in wanted.items()}
    words = ["--key-on", str(LOG), "--contactor", "closed"]
    assert main(["settings", str(SWEEP), *words, "--json"]) == 0
    for entry in json.loads(capsys.readouterr().out)["settings"]:
        if entry["name"] == "start_of_travel":
            assert entry["value"] == pytest.approx(wanted[entry["channel"]].value, abs=5e-4)
    template = tmp_path / "list.txt"
    template.write_text("b {start_of_travel.b}\nknow: {warnings}\n")
    assert main(["settings", str(SWEEP), *words, "--template", str(template)]) == 0
    filled = capsys.readouterr().out
    assert f"{volts['b']:.3f}" in filled
    assert f"In {LOG.name} readings passed the start of travel of the sweep alone" in filled
    assert (
        main(
            ["watch", "--more", "--from", str(LOG), "--contactor", "closed", "--sweep", str(SWEEP)]
        )
        == 0
    )
    told = capsys.readouterr().out
    for channel, value in volts.items():
        assert f"start of travel, {channel}  {value:.3f} V" in told
    assert main(["settings", str(SWEEP), *words, "--more"]) == 0
    text = capsys.readouterr().out
    assert f"{volts['b']:7.3f} V" in text
    assert "contactor at its key-ons: closed" in " ".join(text.split())


def test_a_log_that_carries_nothing_is_refused_in_one_line(tmp_path, capsys):
    log = read_recording(LOG)
    rows = int(log.time_s.searchsorted(30.0))
    short = replace(log, time_s=log.time_s[:rows], marks=(), channels=tuple(
        replace(c, readings=c.readings[:rows]) for c in log.channels))
    write_recording(tmp_path / "short.csv", short)
    assert main(["settings", str(SWEEP), "--key-on", str(tmp_path / "short.csv")]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "too few for a bound" in line
    assert main(["settings", str(SWEEP), "--contactor", "closed"]) == 2
    assert "--key-on" in capsys.readouterr().err


def test_the_report_prints_them(tmp_path):
    out = tmp_path / "page.html"
    assert main(["report", str(SWEEP), "--out", str(out), "--key-on", str(LOG)]) == 0
    page = " ".join(out.read_text(encoding="utf-8").split())
    value = next(convert(s, "", sheet_of((s,))).rounded(3)
                 for s in open_key_on(LOG, None, (), SWEEP).settings
                 if (s.name, s.channel) == ("start_of_travel", "b"))
    assert f"{value:.3f}" in page
    assert LOG.name in page
