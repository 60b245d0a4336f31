"""Every sheet that carries values away says what the findings say, in the same words.

That values are issued with what speaks against them is the project's own promise: no source.
"""

import json

import pytest
from places import ROOT
from said import as_text, as_texts

from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.command_line import main
from bench.files.exports import settings_formats
from bench.files.exports.export_document import sheet_of
from bench.files.exports.template import fill
from bench.services.findings import fails_a_limit, open_findings
from bench.window.finding_view import said
from bench.wording.face import TERMINAL, on_a_sheet

SAMPLES = ROOT / "sample_sweeps"
OFF = SAMPLES / "synthetic_off_at_rest.csv"


def _plain(text: str) -> str:
    return " ".join(text.replace("*/", " ").replace("/*", " ").split())


@pytest.fixture(scope="module")
def short():
    """Return the findings of three slow presses and no lift-off: few returns, little rest."""
    return analyse(simulate_sweep(
        pedal_named("healthy"), 500.0, 12, seed=2,
        motion=Motion(cycles=3, quick=0, rest_s=0.6)).recording)


@pytest.mark.parametrize("form", sorted(settings_formats()))
def test_a_track_off_at_rest_is_told_on_every_sheet(form, capsys):
    """The fault this tool is for stands on every sheet, graded as the findings grade it."""
    assert main(["settings", str(OFF), "--format", form]) == 0
    out, err = capsys.readouterr()
    want = "Repair before driving: track b rests 159 mV further towards pressed than track a"
    assert want in _plain(out)
    assert f"warning: {want}" in err
    assert main(["findings", str(OFF), "--more"]) == 0
    assert want in _plain(capsys.readouterr().out)


@pytest.mark.parametrize("form", [*sorted(settings_formats()), "template"])
def test_a_sheet_without_remedies_says_where_they_are(form):
    """No sheet of settings holds the remedies, so none sends its reader to them."""
    found = open_findings(OFF)
    # The recording is off at rest, which is mended by turning or trimming.
    assert any(TERMINAL.remedies in text for text in as_texts(found.verdict))
    for path, name in ((OFF, OFF.name), (None, "FILE")):
        text = _plain(fill("{warnings}", found, path) if form == "template" else
                      settings_formats()[form](found, path))
        assert TERMINAL.remedies not in text
        assert f"stillpedal findings {name} --more` has the remedies" in text


def test_a_file_name_that_a_shell_would_not_take_is_not_told():
    for name in ("off & on.csv", "-o.csv"):
        assert on_a_sheet(TERMINAL, name).remedies == \
            "`stillpedal findings FILE --more` has the remedies"


@pytest.mark.parametrize("form", sorted(settings_formats()))
def test_too_little_data_is_told_on_every_sheet(form, short):
    text = _plain(settings_formats()[form](short))
    # 4 returns at most (the first rest and three presses); 5 are the stated least.
    assert "returns to rest were seen; the scatter of returns needs at least 5" in text
    assert "the electrical noise needs at least 5 s" in text
    assert "The return after a lift-off is not proven" in text


def test_findings_and_sheets_say_the_same(short):
    """What warns is every sentence of the findings with a gravity, and nothing else."""
    for found in (short, open_findings(OFF)):
        spoken = (*as_texts(found.verdict), *as_texts(found.notes))
        sheet = sheet_of(found)
        assert sheet.warnings
        assert set(sheet.warnings) <= set(as_texts(found.graded, on_a_sheet(TERMINAL)))
        assert set(sheet.warnings) | set(sheet.notes) >= set(as_texts(found.notes))
        assert not set(sheet.warnings) & set(sheet.notes)
        assert [as_text(s) for s in found.graded] == list(spoken)
        assert fill("{warnings}", found) == " ".join(sheet.warnings)


def test_one_grade_for_a_track_off_at_rest(capsys):
    """The page, --strict, the table of many and the sentence itself grade it alike."""
    found = open_findings(OFF)
    assert [s.gravity for s in found.graded if "rests 159 mV" in as_text(s)] == [2]
    assert [s.gravity for s in said(found) if "rests 159 mV" in s.sentence] == [2]
    assert fails_a_limit(found)
    assert main(["findings", str(OFF), "--strict", "--json"]) == 1
    assert len(json.loads(capsys.readouterr().out)["warnings"]) == 1
    assert found.gravest == 2


@pytest.mark.parametrize("name", ["healthy_pair", "opposed_pair", "half_slope_pair"])
def test_a_sound_pair_has_no_warning(name):
    found = open_findings(SAMPLES / f"synthetic_{name}.csv")
    assert found.warnings == ()
    assert not fails_a_limit(found)


def test_a_pair_with_an_offset_is_asked_about_on_every_sheet(capsys):
    """It may be made so, or have a track off: known from its papers only."""
    path = SAMPLES / "synthetic_same_slope_with_offset.csv"
    found = open_findings(path)
    # What only the papers can tell stays open, and open is no pass.
    assert found.state == "open"
    assert fails_a_limit(found)
    assert main(["settings", str(path), "--json"]) == 0
    (warned,) = json.loads(capsys.readouterr().out)["warnings"]
    assert "apart all along" in warned


def test_a_sheet_that_allows_nothing_for_the_car_says_so(capsys):
    """What key-on adds is not in a sweep; who asks for no allowance reads that on the sheet."""
    assert main(["settings", str(SAMPLES / "synthetic_healthy_pair.csv"),
                 "--car-allowance-volts", "0", "--json"]) == 0
    warned = json.loads(capsys.readouterr().out)["warnings"]
    assert sum(w.startswith("Tracks a and b: nothing is allowed for what the car adds")
               for w in warned) == 1
