"""Every page of the report engine can be read by ear and by keyboard.

What is asked of a page: Web Content Accessibility Guidelines (WCAG) 2.2, the criteria named beside
the checks.
"""

import datetime
import html.parser
import re
from dataclasses import replace

import pytest
from places import ROOT
from sender_check_by_hand import bench_recording, options

from bench.plots.palette import DARK, LIGHT, Palette
from bench.services.proof import proofs_of
from bench.services.report import (
    ReportOptions,
    write_calibration,
    write_proof_page,
    write_report,
)
from bench.services.sender_check import calibrate_taken, points_of_recording

SAMPLES = ROOT / "sample_sweeps"
# Elements without an end tag (HTML, 13.1.2).
VOID = {"meta", "br", "hr", "img", "input", "link"}


class Element:
    """An element of a page: its tag, attributes, children and the text right inside."""

    def __init__(self, tag: str, attributes: dict[str, str], parent: "Element | None") -> None:
        self.tag, self.attributes, self.parent = tag, attributes, parent
        self.children: list[Element] = []
        self.own = ""

    def all(self, *tags: str) -> "list[Element]":
        found = [c for c in self.children if c.tag in tags]
        return found + [e for c in self.children for e in c.all(*tags)]

    def within(self, *tags: str) -> bool:
        above = self.parent
        while above is not None and above.tag not in tags:
            above = above.parent
        return above is not None

    @property
    def text(self) -> str:
        return (self.own + "".join(c.text for c in self.children)).strip()


class Tree(html.parser.HTMLParser):
    """Build the elements of a page; an end tag that closes nothing fails."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.root = self.here = Element("", {}, None)
        self.feed(page)
        assert self.here is self.root, f"<{self.here.tag}> is left open"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Element(tag, {k: v or "" for k, v in attrs}, self.here)
        self.here.children.append(made)
        if tag not in VOID:
            self.here = made

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.here.children.append(Element(tag, {k: v or "" for k, v in attrs}, self.here))

    def handle_endtag(self, tag: str) -> None:
        assert self.here.tag == tag
        self.here = self.here.parent

    def handle_data(self, data: str) -> None:
        self.here.own += data


@pytest.fixture(scope="module", params=[
    pytest.param("one", marks=pytest.mark.long), "before and after",
    pytest.param("one track", marks=pytest.mark.long), "calibration", "proofs"])
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Element:
    out = tmp_path_factory.mktemp("page") / "page.html"
    if request.param == "one":
        write_report(SAMPLES / "synthetic_worn_spot_near_rest.csv", out)
    elif request.param == "one track":
        write_report(SAMPLES / "synthetic_one_track.csv", out)
    elif request.param == "proofs":
        write_proof_page(proofs_of(SAMPLES / "job_with_a_loose_plug"), out, "", "",
                         (datetime.date(2027, 3, 1), "in a year"))
    elif request.param == "calibration":
        asked = options(channel="pack", tolerance=0.5, note="the first")
        result = calibrate_taken(points_of_recording(bench_recording(), asked), asked)
        write_calibration(out, replace(result, notes=("a note",)))
    else:
        write_report(SAMPLES / "synthetic_wiper_dropouts.csv", out,
                     options=ReportOptions(before=SAMPLES / "synthetic_healthy_pair.csv"))
    return Tree(out.read_text("utf-8")).root


def test_the_page_names_its_language_title_and_width(page: Element) -> None:
    """WCAG 3.1.1 language of page, 2.4.2 page titled, 1.4.10 reflow."""
    (top,) = page.all("html")
    assert top.attributes["lang"] == "en"
    (head,) = top.all("head")
    assert head.all("title")[0].text
    views = [m.attributes["content"] for m in head.all("meta")
             if m.attributes.get("name") == "viewport"]
    assert len(views) == 1
    assert "width=device-width" in views[0]
    assert "user-scalable" not in views[0]


def test_all_that_is_said_stands_in_a_landmark(page: Element) -> None:
    """WCAG 1.3.1 and 2.4.1: one header, one main, one footer, and nothing beside them."""
    (body,) = page.all("body")
    assert [c.tag for c in body.children] == ["header", "main", "footer"]
    assert not body.own.strip()


def test_headings_go_down_one_step_at_a_time(page: Element) -> None:
    """WCAG 1.3.1 and 2.4.6: one h1, first; then h2, each with words."""
    headings = page.all("h1", "h2", "h3", "h4")
    assert [h.tag for h in page.all("h1")] == ["h1"]
    assert page.all("h1")[0].within("header")
    assert {h.tag for h in headings} == {"h1", "h2"}
    assert all(h.text for h in headings)


def test_every_figure_is_an_image_with_a_name_and_a_caption(page: Element) -> None:
    """WCAG 1.1.1: who does not see a figure is told which it is."""
    drawings = page.all("svg")
    # A job's page is signed: it has tables and no figure.
    assert drawings or page.all("h1")[0].text.startswith("Proof")
    names = []
    for drawing in drawings:
        assert drawing.parent is not None
        assert drawing.parent.tag == "figure"
        assert [c.tag for c in drawing.parent.children] == ["svg", "figcaption"]
        assert drawing.parent.children[1].text
        assert drawing.attributes["role"] == "img"
        title = drawing.children[0]
        assert title.tag == "title"
        assert title.text
        assert drawing.attributes["aria-labelledby"] == title.attributes["id"]
        names.append(title.text)
    assert len(set(names)) == len(names)
    assert len(page.all("figure")) == len(drawings)


def test_every_table_has_a_caption_and_heads_that_say_what_they_head(page: Element) -> None:
    """WCAG 1.3.1; W3C technique H63 (scope) and H39 (caption)."""
    tables = page.all("table")
    assert tables
    captions = [t.children[0] for t in tables]
    assert all(c.tag == "caption" and c.text for c in captions)
    assert len({c.text for c in captions}) == len(captions)
    for table in tables:
        (head,) = table.all("thead")
        (row,) = head.all("tr")
        assert len(row.children) >= 2
        for cell in row.children:
            assert cell.tag == ("th" if cell.text else "td")
        assert all(c.attributes["scope"] == "col" for c in head.all("th"))
        (rest,) = table.all("tbody")
        assert all(c.attributes["scope"] == "row" for c in rest.all("th"))
        assert all(len(r.children) == len(row.children) for r in rest.all("tr"))


def test_ids_are_unique_and_every_name_points_to_one(page: Element) -> None:
    """HTML, 3.2.6 (the id attribute); WCAG 4.1.2."""
    every = [page]
    for element in every:
        every.extend(element.children)
    ids = [e.attributes["id"] for e in every if "id" in e.attributes]
    assert len(set(ids)) == len(ids)
    assert {e.attributes["aria-labelledby"] for e in every
            if "aria-labelledby" in e.attributes} <= set(ids)


def luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb" (WCAG 2.2, definition)."""
    parts = [int(colour[k: k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4
                        for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=lambda p: p.name)
def test_text_stands_out_from_what_lies_behind_it(colours: Palette) -> None:
    """WCAG 1.4.3: text at least 4.5 to 1; 1.4.11: lines that mean something at least 3 to 1."""
    # "The contrast ratio of black and white is 21:1" (WCAG, definition of contrast ratio).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    for text in (colours.ink, colours.quiet, colours.accent, colours.grave, colours.mend,
                 colours.know, colours.good):
        for behind in (colours.page, colours.window):
            assert contrast(text, behind) >= 4.5, (text, behind)
    assert contrast(colours.on_accent, colours.accent) >= 4.5
    assert contrast(colours.ink, colours.picked) >= 4.5
    for mark in (*colours.tracks, colours.fault, colours.grid):
        assert contrast(mark, colours.page) >= 3.0, mark


def test_colours_are_written_in_one_module() -> None:
    """No other module of the product has a colour of its own."""
    written = re.compile(r"#(?:[0-9a-fA-F]{3,4}|[0-9a-fA-F]{6}|[0-9a-fA-F]{8})\b(?![-\w])")
    found = [f"{path.relative_to(ROOT)}: {hit[0]}"
             for top in ("analysis", "bench") for path in sorted((ROOT / top).rglob("*.py"))
             if path.relative_to(ROOT).as_posix() != "bench/plots/palette.py"
             for hit in written.finditer(path.read_text("utf-8"))]
    assert not found
