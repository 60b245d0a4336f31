"""The page for the car's folder says everything, stays short, and looks printed."""

import html.parser
import itertools
import re
import shutil
import subprocess
import sys
import time
import unicodedata
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from in_process import stillpedal
from places import ROOT

from analysis.simulation import (
    Dropout,
    Pedal,
    StuckReturn,
    Supply,
    Track,
    WornSpot,
    pedal_named,
    simulate_sweep,
)
from bench.command_line import main
from bench.files.exports.export_document import file_sha256
from bench.files.recording_file import write_recording
from bench.report.content import CAUTIONS, METHOD
from bench.report.flowables import Strip, for_paper
from bench.report.pdf import paginate
from bench.report.typography import bound
from bench.version import version

SAMPLES = ROOT / "sample_sweeps"
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
needs_poppler = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="poppler's tools are not installed")


def text_of(path: Path) -> str:
    """Return a PDF's text in reading order, with single spaces (poppler)."""
    made = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True,
                          check=True, timeout=60).stdout.decode("utf-8")
    # NFKC takes ligatures apart and makes every space a plain one.
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", made))


def pages_of(path: Path) -> int:
    said = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True,
                          timeout=60).stdout
    return int(re.search(r"Pages:\s+(\d+)", said)[1])


@pytest.fixture(scope="module")
def report_on(tmp_path_factory):
    """Return the PDF of a sample's plain report, made once."""
    @cache
    def made(name: str) -> Path:
        out = tmp_path_factory.mktemp("report") / f"{name}.pdf"
        assert main(["report", str(SAMPLES / f"synthetic_{name}.csv"), "--out", str(out)]) == 0
        return out
    return made


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Return a PDF with all that a user may add, made once, and the seconds of work it took."""
    out = tmp_path_factory.mktemp("told") / "report.pdf"
    started = time.process_time()
    done = stillpedal("report", str(HEALTHY), "--out", str(out), "--paper", "letter", "--by",
                      "the workshop", "--vehicle", "converted van 7", "--remark", "box as found")
    taken = time.process_time() - started
    assert (done.returncode, done.stdout.strip()) == (0, str(out))
    return out, taken


@needs_poppler
def test_the_pdf_says_who_what_when_and_how_it_is_known(told):
    text = text_of(told[0])
    for piece in ("converted van 7", "the workshop", "box as found", "2026-11-25, 09:00 UTC",
                  "simulated 12-bit board", "Caution", "local codes", "wheels off the ground",
                  "Recommended settings", "Start of travel, a", "Fault high, b",
                  "Mismatch limit", "What can lift the rest reading", "What the car adds",
                  "In all", "Track against track", "Ways to correct the rest position",
                  "JCGM 100:2008", "49 CFR 571.124", file_sha256(HEALTHY),
                  f"Stillpedal {version()}", "page 1 of"):
        assert piece in text, piece


@needs_poppler
@pytest.mark.parametrize("name", [
    "off_at_rest", "one_track", *(pytest.param(name, marks=pytest.mark.long) for name in (
        "wiper_dropouts", "opposed_pair", "cut_short_file", "clipped_input"))])
def test_every_sample_fills_one_to_four_pages(name, report_on):
    out = report_on(name)
    count = pages_of(out)
    assert 1 <= count <= 4
    assert f"page {count} of {count}" in text_of(out)


@needs_poppler
def test_figures_are_lines_not_pictures_and_fonts_travel_along(told):
    out, _ = told
    images = subprocess.run(["pdfimages", "-list", str(out)], capture_output=True, text=True,
                            check=True, timeout=60).stdout.splitlines()
    assert len(images) == 2  # the heading only
    fonts = subprocess.run(["pdffonts", str(out)], capture_output=True, text=True, check=True,
                           timeout=60).stdout.splitlines()[2:]
    assert fonts
    assert all(line.split("Identity-H")[1].split()[0] == "yes" for line in fonts)
    # US letter: 612 x 792 points (ANSI/ASME Y14.1).
    info = subprocess.run(["pdfinfo", str(out)], capture_output=True, text=True, check=True,
                          timeout=60).stdout
    assert "612 x 792" in info


@needs_poppler
def test_two_recordings_give_a_report_on_what_changed(tmp_path):
    out = tmp_path / "report.pdf"
    after = SAMPLES / "synthetic_off_at_rest.csv"
    assert main(["report", str(HEALTHY), str(after), "--out", str(out)]) == 0
    text = text_of(out)
    assert pages_of(out) <= 4
    for piece in ("before and after", "What changed", "settings of before no longer hold",
                  "the car would creep", "Std. uncertainty", file_sha256(HEALTHY),
                  file_sha256(after)):
        assert piece in text, piece


def ruined() -> Pedal:
    """Return a pedal with all that is known to go wrong with one at once."""
    track = pedal_named("healthy").tracks[0]
    return Pedal(
        (track, Track(0.30, 0.99, (-0.1, 0.1))), "ruined", slow_return_s=1.6,
        supply=Supply(volts=5.3, sag_volts=0.6, sag_at_s=20.0, sag_seconds=12.0),
        worn_spots=(WornSpot(0, 8.0, 4.0, 0.03), WornSpot(1, 70.0, 4.0, 0.03)),
        dropouts=(Dropout(1, 0.03, 40.0), Dropout(0, 0.03, 50.0, level="high")),
        stuck_returns=(StuckReturn(3, 15.0),), gaps=((9.0, 20), (21.5, 100), (40.0, 20)))


@pytest.fixture(scope="module")
def ruined_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("ruined") / "bad.csv"
    write_recording(path, simulate_sweep(ruined(), 500.0, 12, seed=3).recording)
    return path


@needs_poppler
# Each page and each order once, not each with each.
@pytest.mark.parametrize(("paper", "ruined_first"), [
    ("letter", False), pytest.param("a4", True, marks=pytest.mark.long)])
def test_seven_kinds_of_fault_before_or_after_fit_four_pages_whole(paper, ruined_first, tmp_path,
                                                                   ruined_file):
    """What was put into the pedal is named, no caution is dropped, and the folder stays thin."""
    good, out = SAMPLES / "synthetic_off_at_rest.csv", tmp_path / "r.pdf"
    files = (ruined_file, good) if ruined_first else (good, ruined_file)
    assert main(["report", *map(str, files), "--out", str(out), "--paper", paper]) == 0
    text = text_of(out)
    assert pages_of(out) <= 4
    for piece in ("Faults, before and after", "Dropout, a", "Dropout, b", "No return",
                  "Slow return", "Noise, a", "Noise, b", "Clipping, b", "Supply sag", "Gap"):
        assert piece in text, piece
    for caution in CAUTIONS:
        assert caution in text
    # In words too: what lets go, and what to do about it.
    assert text.count("loses contact for 30 ms") >= 2
    assert "look for friction" in text
    if not ruined_first:
        assert "dropout of b, dropout of a" in text


@needs_poppler
def test_the_headline_follows_the_gravest_fault(report_on, told):
    said = {name: text_of(report_on(name)) for name in (
        "worn_spot_near_rest", "wiper_dropouts", "off_at_rest")}
    said["healthy_pair"] = text_of(told[0])
    assert "DO NOT DRIVE: a track loses contact" in said["wiper_dropouts"]
    assert "REPAIR FIRST: a track loses contact" in said["worn_spot_near_rest"]
    assert "SOUND ON THE BENCH" in said["healthy_pair"]
    # The fault this tool is made for must not stand under a headline that clears the pedal.
    assert "REPAIR FIRST: the tracks do not agree" in said["off_at_rest"]
    assert "DO NOT DRIVE" not in said["worn_spot_near_rest"]


class _Page(html.parser.HTMLParser):
    """Collect tags, the addresses they name, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.ids: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        for name, value in attrs:
            if name in ("src", "href", "xlink:href", "action", "data"):
                self.addresses.append(value)
            if name == "id":
                self.ids.append(value)

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture(scope="module")
def web_page(tmp_path_factory):
    """Return a report as a web page, made once, with what a user should not write."""
    out = tmp_path_factory.mktemp("web") / "report.html"
    assert main(["report", str(HEALTHY), "--out", str(out), "--vehicle",
                 '<script>alert("x")</script>', "--by", "a & b"]) == 0
    return out.read_text("utf-8")


def test_the_html_stands_alone_and_draws_every_figure(web_page):
    page = _Page()
    page.feed(web_page)
    assert page.tags.count("svg") == page.tags.count("figure") == 8
    assert all(a.startswith("#") for a in page.addresses)
    assert not {"script", "link", "iframe", "img"} & set(page.tags)
    assert len(set(page.ids)) == len(page.ids)
    text = " ".join(page.text)
    assert file_sha256(HEALTHY) in text
    assert "Recommended settings" in text


def test_what_the_user_writes_is_shown_not_run(web_page):
    assert "<script" not in web_page
    assert "&lt;script&gt;" in web_page
    assert "a &amp; b" in web_page


@pytest.mark.parametrize(("arguments", "message"), [
    (["--out", "x.docx"], "ends in .pdf or .html"),
    (["--out", "no such folder/x.pdf"], "cannot write"),
])
def test_a_report_that_cannot_be_written_is_one_line(arguments, message, tmp_path, monkeypatch,
                                                     capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["report", str(HEALTHY), *arguments]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert said.count("\n") == 1


def test_without_qt_the_report_says_what_is_missing(tmp_path, monkeypatch, capsys):
    # What importing a package does whose libraries are not there.
    monkeypatch.setitem(sys.modules, "bench.report", None)
    assert main(["report", str(HEALTHY), "--out", str(tmp_path / "x.pdf")]) == 2
    said = capsys.readouterr().err
    assert "install Qt's system libraries" in said
    assert said.count("\n") == 1


def test_a_report_is_never_written_over_a_recording(tmp_path, capsys):
    target = tmp_path / "sweep.html"
    shutil.copy(HEALTHY, target)
    assert main(["report", str(HEALTHY), "--out", str(target)]) == 2
    assert "is a recording" in capsys.readouterr().err
    assert target.read_bytes() == HEALTHY.read_bytes()


def test_a_report_takes_less_than_five_seconds_of_work(told):
    assert told[1] < 5.0


def strip(height: float, glued: bool = False, head: Strip | None = None) -> Strip:
    return Strip(height, lambda painter, y: None, before=2.0, glued=glued, head=head)


@given(st.lists(st.tuples(st.floats(1, 90), st.booleans()), min_size=1, max_size=40))
def test_pages_hold_every_strip_once_in_order_and_inside(heights):
    strips = [strip(height, glued) for height, glued in heights]
    pages = paginate(strips, 10.0, 110.0)
    placed = [s for page in pages for _, s in page]
    assert [id(s) for s in placed] == [id(s) for s in strips]
    for page in pages:
        assert page[0][0] == 10.0
        for (y, one), (later, other) in itertools.pairwise(page):
            assert later >= y + one.height + other.before - 1e-9
    # Only what is glued to a chunk taller than the page may run out of it.
    chunk, sizes = [], {}
    for s in strips:
        chunk.append(s)
        if not s.glued or s is strips[-1]:
            total = sum(c.height + c.before for c in chunk)
            sizes.update({id(c): total for c in chunk})
            chunk = []
    for page in pages:
        for y, s in page:
            assert y + s.height <= 110.0 + 1e-6 or sizes[id(s)] > 100.0


def test_a_heading_goes_with_what_follows_and_a_table_repeats_its_head():
    head = strip(5)
    rows = [strip(30, head=head) for _ in range(4)]
    pages = paginate([strip(60), strip(20, glued=True), *rows], 0.0, 100.0)
    assert len(pages[0]) == 1
    assert pages[1][0][1].glued
    assert pages[2][0][1] is head


def test_numbers_keep_their_units_and_minus_signs_are_true():
    assert bound("at most 5 % of track a, -0.3 mV, 2026-11-25") == (
        "at most 5\u00a0% of track\u00a0a, −0.3\u00a0mV, 2026-11-25")


def test_lines_on_paper_scale_with_the_figure():
    made = for_paper('<svg><clipPath id="x"><path d="M0,0"/></clipPath>'
                     '<path vector-effect="non-scaling-stroke" d="M1,1"/></svg>')
    assert "clipPath" not in made
    assert "non-scaling" not in made
    assert 'd="M1,1"' in made


def test_the_method_on_the_page_is_the_one_of_the_program():
    """A tolerance bound holds a share of all returns, a prediction limit all of the next m.

    Hahn and Meeker, Statistical Intervals; which the dead band takes: docs/method_deadband.md.
    """
    dead_band = next(line for line in METHOD if line.startswith("Dead band:"))
    about_returns = dead_band.partition("Full travel:")[0]
    assert "prediction limit" in about_returns
    assert "tolerance bound" not in about_returns
    page = (ROOT / "docs" / "method_deadband.md").read_text("utf-8")
    assert "so returns get the prediction limit" in " ".join(page.split())
