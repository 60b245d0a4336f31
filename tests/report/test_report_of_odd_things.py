"""A page of little or of very much: nothing that is not known gets a number, nothing is cut off."""

import datetime
from dataclasses import replace

import pytest
from places import ROOT
from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QPdfWriter
from sender_check_by_hand import bench_recording, options

from analysis.model.estimate import Estimate
from analysis.senders.calibration import Change
from bench.errors import BadCall
from bench.report.calibration import calibration as calibration_page
from bench.report.document import Box, Document, Points, Table, Text
from bench.report.pdf import pdf_bytes
from bench.report.proof import proof_page
from bench.report.tables import estimated
from bench.report.typography import open_type
from bench.services.proof import proofs_of
from bench.services.sender_check import calibrate_taken, points_of_recording

JOB = ROOT / "sample_sweeps" / "job_with_a_loose_plug"
NEXT = (datetime.date(2027, 3, 1), "in a year")


@pytest.fixture(scope="module")
def checked():
    asked = options(channel="pack", note="the first")
    return calibrate_taken(points_of_recording(bench_recording(), asked), asked)


def texts(document):
    return [b.text for b in document.blocks if isinstance(b, Text)]


def test_a_calibration_tells_what_changed_since_the_last_one(checked):
    """The change in words, with the day it is counted from."""
    moved = Change(2.5, 12.5, 12.75, 0.25, 0.01, True, "V")
    document = calibration_page(replace(checked, change=moved, changed_since="2026-05-02"))
    told = [t for t in texts(document) if t.endswith("(last: 2026-05-02)")]
    assert len(told) == 1
    assert not any("(last:" in t for t in texts(calibration_page(checked)))


def test_a_page_on_points_that_were_taken_once_claims_no_spread(checked):
    """Hysteresis and repeatability need a point visited twice."""
    stored = checked.stored
    once = replace(stored.calibration, spread=replace(
        stored.calibration.spread, hysteresis=float("nan"), repeatability=float("nan")))
    document = calibration_page(replace(checked, stored=replace(stored, calibration=once)))
    assert any("not known" in t and "visited twice" in t for t in texts(document))


@pytest.mark.parametrize(("value", "uncertainty", "said"), [
    (1.25, 0.01, "1.250 ± 0.010"), (1.25, float("inf"), "1.250"), (float("nan"), 0.01, "–"),
    (-1.25, float("nan"), "−1.250")])
def test_what_is_not_known_is_a_dash_and_never_a_number(value, uncertainty, said):
    assert estimated(Estimate(value, uncertainty), 3) == said


def proofs_with(**changes):
    return replace(proofs_of(JOB), **changes)


def test_a_page_of_a_job_without_a_sweep_has_no_values():
    """Nothing was issued, so there is nothing to compare what was typed with."""
    made = proof_page(proofs_with(findings=None, limits=None), "", "", NEXT[0], NEXT)
    assert not [b for b in made.blocks if isinstance(b, Table) and "Values" in b.caption]


def test_a_page_says_that_all_was_proved_only_where_it_was():
    """All steps proved on a car, no more and no less; one on a simulated board, and it is open."""
    proofs = proofs_of(JOB)
    proved = tuple(replace(p, state="proved", because=(), simulated=False) for p in proofs.steps)
    simulated = (replace(proved[0], simulated=True), *proved[1:])
    for steps, whole in ((proved, True), (simulated, False), (proofs.steps, False)):
        made = proof_page(replace(proofs, steps=steps), "somebody", "a car", NEXT[0], NEXT)
        lead = next(b for b in made.blocks if isinstance(b, Box))
        assert (lead.title == "Everything below was proved.") is whole


@pytest.fixture(scope="module")
def letters(qapp):
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    yield open_type(writer)
    del writer


def test_a_word_wider_than_its_line_is_broken_and_none_of_it_is_lost(letters):
    """A path or a check sum without a space goes on in the next line; every line fits."""
    path = "/" + "abcdefghij" * 12
    for text in (path, f"see {path} there", f"{path} {path}"):
        lines = letters.wrap("body", text, 120.0)
        assert len(lines) > 2
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
        assert all(letters.width("body", line) <= 120.0 for line in lines)
    # Too narrow for a single letter: still one after another, and it ends.
    assert letters.wrap("body", "abc", 0.5) == ["a", "b", "c"]
    assert letters.wrap("body", "", 120.0) == [""]


def test_without_a_font_the_pdf_is_refused_with_what_to_do(letters, monkeypatch):
    monkeypatch.setattr("bench.report.typography.QFontDatabase.families", lambda: [])
    with pytest.raises(BadCall, match="no fonts are installed"):
        open_type(letters.writer)


def test_a_paper_that_is_not_known_is_refused():
    with pytest.raises(BadCall, match="paper 'b5' is not known; use a4 or letter"):
        pdf_bytes(Document("Title", "", "", ()), "b5")


def test_more_than_four_pages_are_printed_small_and_whole():
    """What does not fit on four pages in the smallest print goes on: nothing is cut off."""
    many = Document("Title", "", "", (Points(tuple(f"line {k}" for k in range(420))),))
    made = pdf_bytes(many)
    # A page object each (ISO 32000-1, 7.7.3.3); Qt writes them uncompressed.
    assert made.count(b"/Type /Page\n") > 4
