"""One meaning, one unit, one place: what a sheet points to is on it, what rows share, once."""

import html
import re
from pathlib import Path

import pytest

from bench.command_line import main
from bench.files.exports.findings_text import findings_text
from bench.files.exports.key_on_text import key_on_text
from bench.files.exports.text import settings_text
from bench.services.findings import open_findings
from bench.services.key_on import open_key_on
from bench.services.report import write_report
from bench.wording.face import PAPER, REMEDIES, TERMINAL, WINDOW

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
SWEEPS = ("off_at_rest", "stuck_return", "play_between_shafts", "one_track")


def _plain(text):
    return " ".join(text.split())


@pytest.fixture(scope="module", params=SWEEPS)
def sweep(request):
    path = SAMPLES / f"synthetic_{request.param}.csv"
    return path, open_findings(path)


def _pointed_to(text):
    return re.findall(r"\bsee '([^']+)'", _plain(text))


def test_a_heading_that_a_sentence_points_to_stands_on_the_same_sheet(sweep):
    path, found = sweep
    text = findings_text(found)
    for heading in (*_pointed_to(text), REMEDIES):
        assert f"\n{heading}\n{'-' * len(heading)}\n" in text
    for text in (settings_text(found, path), settings_text(found)):
        assert not _pointed_to(text)


def test_a_report_has_the_headings_it_points_to(tmp_path):
    """On paper the cure is a page away: the sentence names the heading above it."""
    out = write_report(SAMPLES / "synthetic_off_at_rest.csv", tmp_path / "report.html")
    page = html.unescape(out.read_text(encoding="utf-8"))
    assert REMEDIES in _pointed_to(page)
    for heading in _pointed_to(page):
        assert re.search(f"<h2[^>]*>{heading}</h2>", page), heading


def test_a_log_points_to_no_heading_that_it_lacks():
    found = open_key_on(SAMPLES / "synthetic_key_on_quiet_car.csv",
                        sweep=SAMPLES / "synthetic_off_at_rest.csv")
    text = key_on_text(found)
    assert not _pointed_to(text)
    assert "`stillpedal findings FILE --more` has the remedies" in _plain(text)


def test_every_face_names_the_same_heading():
    for face in (TERMINAL, WINDOW, PAPER):
        assert f"see '{REMEDIES}'" in face.remedies


def test_what_holds_of_both_tracks_is_said_once():
    """The fourth return stays out, which withdraws the promise of both tracks for one reason."""
    path = SAMPLES / "synthetic_stuck_return.csv"
    found = open_findings(path)
    reason = "the pedal did not come back once"
    text = _plain(settings_text(found, path))
    assert text.count(f"! Tracks a and b: {reason}") == 1
    assert text.count(f"NOT PROVEN: {reason}") == 1
    # Release of a, start of travel and release of b.
    assert text.count("NOT PROVEN: as start of travel, a;") == 3
    text = _plain(findings_text(found))
    assert text.count(f"NOT PROVEN: {reason}") == 1
    assert "NOT PROVEN: as for track a." in text


def test_the_promise_of_both_tracks_is_said_once():
    path = SAMPLES / "synthetic_healthy_pair.csv"
    found = open_findings(path)
    text = _plain(settings_text(found, path))
    assert text.count("the chance that any of 100 later key-ons reads more") == 1
    assert text.count("the promise is that of start of travel, a;") == 1
    assert _plain(findings_text(found)).count("Promise: with these readings and assumptions") == 1


def test_drift_and_scatter_have_one_unit_on_every_sheet(sweep):
    """Levels are in V; drift in mV/min and scatter in mV (common practice, no source)."""
    _, found = sweep
    text = findings_text(found)
    assert re.search(r"^  drift +-?\d+\.\d \+- \d+\.\d mV/min", text, re.M)
    assert re.search(r"^  scatter +\d+\.\d \+- \d+\.\d mV", text, re.M)
    log = key_on_text(open_key_on(SAMPLES / "synthetic_key_on_quiet_car.csv"))
    assert len(re.findall(r"^drift +[+-]\d.* mV/min at 95%\)$", log, re.M)) == 2
    for page in (text, log):
        assert "V/min" not in page.replace("mV/min", "")


@pytest.mark.parametrize(("sample", "words"), [
    ("healthy_pair", ["findings"]), ("healthy_pair", ["findings", "--more"]),
    ("key_on_quiet_car", ["watch", "--from"]), ("key_on_quiet_car", ["watch", "--more", "--from"])])
def test_what_has_no_title_goes_by_the_name_of_its_file(sample, words, tmp_path, capsys):
    path = _untitled(sample, tmp_path)
    assert main([*words, str(path)]) == 0
    assert capsys.readouterr().out.startswith("plain.csv")


def test_a_report_has_no_gap_for_a_title(tmp_path):
    out = write_report(_untitled("healthy_pair", tmp_path), tmp_path / "report.html")
    assert '<p class="sub">plain.csv</p>' in out.read_text(encoding="utf-8")


def _untitled(sample, folder):
    lines = (SAMPLES / f"synthetic_{sample}.csv").read_text().splitlines(keepends=True)
    path = folder / "plain.csv"
    path.write_text("".join(x for x in lines if not x.startswith(("# title", "# end"))))
    return path


def test_no_row_and_no_line_stands_alone_on_a_printed_page(tmp_path):
    """CSS Fragmentation 3: the first row stays with the next, the last with the one before."""
    page = write_report(SAMPLES / "synthetic_healthy_pair.csv",
                        tmp_path / "report.html").read_text(encoding="utf-8")
    printed = page[page.index("@media print"):page.index("</style>")]
    for rule in ("tr:first-child{break-after:avoid}", "tr:last-child{break-before:avoid}",
                 "orphans:2", "widows:2"):
        assert rule in printed
