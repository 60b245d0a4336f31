"""The figures draw what the findings say, in the window and on paper alike."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pyqtgraph as pg
import pytest
from findings_by_hand import SAMPLES
from plot_findings_by_hand import findings, recording
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication

from bench.errors import BadCall
from bench.plots import FIGURES, NIGHT, PAPER, columns, draw, png, point_at, svg, title_for
from bench.plots.marks import Stretches, cells
from bench.services.findings import open_findings


@pytest.fixture(scope="module")
def swept():
    return findings()


@pytest.fixture
def plot(plot_page):
    return plot_page.addPlot(enableMenu=False)


def curves(plot):
    return {item.name(): item.getData() for item in plot.items
            if isinstance(item, pg.PlotDataItem)}


@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("look", [PAPER, NIGHT], ids=["light", "dark"])
def test_every_figure_is_a_well_formed_svg_of_the_size_asked_for(name, look, swept):
    root = ET.fromstring(svg(name, swept, (640, 300), look))
    assert root.attrib["viewBox"] == "0 0 640 300"
    ground = next(e for e in root.iter() if e.tag.endswith("rect"))
    assert ground.attrib["fill"] == look.background


def test_two_figures_on_one_page_never_share_an_id(swept):
    texts = [svg("mismatch", swept), svg("mismatch", swept), svg("noise", swept)]
    ids = [e.attrib["id"] for t in texts for e in ET.fromstring(t).iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids)) > 3


def test_png_has_the_pixels_asked_for(swept):
    data = png("traces", swept, (300, 200), scale=2.0)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"  # W3C PNG specification, 5.2
    assert int.from_bytes(data[16:20]) == 600
    assert int.from_bytes(data[20:24]) == 400


def test_a_resting_track_is_one_line_without_gaps(plot_page, plot):
    """No reading is missing there: what looks like a gap would pass for a cable that let go.

    No outside source: the promise is the project's own. A minute at 500 Hz, 1.2 mV of noise.
    """
    made = open_findings(SAMPLES / "synthetic_off_at_rest.csv")
    plot_page.resize(900, 330)
    draw("traces", plot, made, PAPER.small())
    QApplication.processEvents()
    picture = plot_page.grab().toImage()
    view, level = plot.getViewBox(), made.tracks["a"].rest.value
    seen = []
    for segment in [s for s in made.segments if s.kind == "rest"][:5]:
        first, last = (view.mapViewToScene(pg.Point(at, level)) for at in (
            segment.start_s + 0.3, segment.end_s - 0.3))
        seen += [any(c.blue() - c.red() > 60 for c in (
            picture.pixelColor(x, round(first.y()) + dy) for dy in range(-3, 4)))
            for x in range(round(first.x()), round(last.x()))]
    assert len(seen) > 60
    assert all(seen), (len(seen), seen.count(False))


def test_traces_are_the_recorded_volts(plot, swept):
    draw("traces", plot, swept, PAPER, thin=True)
    _, volts = curves(plot)["a"]
    recorded = swept.recording.stated_volts(swept.recording.channel("a"))
    assert volts.min() == recorded.min()
    assert volts.max() == recorded.max()


def test_the_fitted_relation_is_the_pairs_own_line(plot, swept):
    draw("pair", plot, swept, PAPER)
    (x, y), = [data for name, data in curves(plot).items() if name.startswith("half slope")]
    assert y == pytest.approx(0.5 * x + 0.012)


@pytest.mark.parametrize("compact", [False, True])
@pytest.mark.parametrize("noise_mv", [0.01, 1.0, 5.0])
def test_no_text_lies_over_the_noise_curves_and_the_step_is_told(plot, swept, compact, noise_mv):
    """Wherever the curves run, what one converter step is stands outside of them."""
    first = next(iter(swept.tracks.values()))
    tracks = {n: replace(t, noise_map_volts=np.full_like(t.noise_map_volts, noise_mv / 1000))
              for n, t in swept.tracks.items()}
    look = PAPER.small() if compact else PAPER
    draw("noise", plot, replace(swept, tracks=tracks), look)
    lines = [i for i in plot.items if isinstance(i, pg.InfiniteLine)]
    assert [i.value() for i in lines] == [pytest.approx(1000 * first.step_volts)]
    assert not any(isinstance(i, pg.TextItem | pg.InfLineLabel)
                   for i in plot.getViewBox().allChildren() if i.isVisible())
    assert f"step {1000 * first.step_volts:.2f} mV" in plot.titleLabel.text


def test_the_noise_before_is_in_view_though_it_was_greater(plot, swept):
    tracks = {n: replace(t, noise_map_volts=np.full_like(t.noise_map_volts, 0.5))
              for n, t in swept.tracks.items()}
    draw("noise", plot, swept, PAPER, before=replace(swept, tracks=tracks))
    assert plot.viewRange()[1][1] > 500.0


def test_mismatch_is_drawn_as_found_and_its_limits_are_in_view(plot, swept):
    draw("mismatch", plot, swept, PAPER)
    x, y = curves(plot)["mismatch"]
    assert np.array_equal(x, swept.pair.travel_percent)
    assert np.array_equal(y, swept.pair.mismatch_percent)
    levels = sorted(i.value() for i in plot.items if isinstance(i, pg.InfiniteLine))
    assert levels == [-10.0, 10.0]
    low, high = plot.viewRange()[1]
    assert low < -10.0 < 10.0 < high


@pytest.mark.parametrize("column", ["a", "b"])
def test_rest_readings_show_every_return_and_the_dead_band(plot, swept, column):
    draw("rest", plot, swept, PAPER, column=column)
    dots = next(i for i in plot.items if isinstance(i, pg.ScatterPlotItem))
    assert np.array_equal(dots.getData()[1], swept.tracks[column].rest_levels)
    dead = swept.dead_bands[column]
    region = next(i for i in plot.items if isinstance(i, pg.LinearRegionItem))
    assert region.getRegion() == pytest.approx(
        (swept.tracks[column].rest.value, dead.start_of_travel_volts))
    low, high = plot.viewRange()[1]
    assert low < min(dots.getData()[1])
    assert high > dead.start_of_travel_volts


def test_noise_is_drawn_in_millivolts(plot, swept):
    draw("noise", plot, swept, PAPER)
    assert curves(plot)["b"][1].max() == pytest.approx(6.0)
    assert "mV" in plot.getAxis("left").labelText


def test_press_and_release_are_two_curves(plot, swept):
    draw("play", plot, swept, PAPER)
    gap = curves(plot)["pressing"][1] - curves(plot)["letting go"][1]
    assert gap == pytest.approx(np.full(gap.size, 0.8))


def test_budget_bars_follow_on_one_another_and_the_last_is_their_sum(plot, swept):
    draw("budget", plot, swept, PAPER, column="a")
    bars = next(i for i in plot.items if isinstance(i, pg.BarGraphItem)).opts
    dead = swept.dead_bands["a"]
    volts = [item.volts for item in dead.items]
    assert bars["width"][:-1] == pytest.approx(1000 * np.array(volts))
    assert bars["x0"][:-1] == pytest.approx(1000 * (np.cumsum(volts) - volts))
    assert (bars["x0"][-1], bars["width"][-1]) == (0.0, pytest.approx(1000 * dead.total_volts))
    measured, assumed = bars["brushes"][0], bars["brushes"][5]
    assert measured.style() != assumed.style()


def test_a_fault_is_pointed_at_in_every_figure(plot, swept):
    fault = swept.faults[1]
    for name, figure in FIGURES.items():
        draw(name, plot, swept, PAPER)
        marks = point_at(name, plot, swept, fault, PAPER,
                         column="a" if figure.per_track else None)
        if figure.x_axis == "travel_percent":
            assert marks[0].value() == fault.travel_percent
        elif name == "rest":
            # The fault lies in the fourth stroke (21 s of 6 s each): the fourth rest is before it.
            assert marks[0].getData()[0] == [4]
        elif name == "pair":
            rows = np.searchsorted(swept.recording.time_s, (fault.time_s, fault.end_s))
            near = swept.recording.channels[0].volts()[rows[0] - 1:rows[1] + 1]
            assert set(marks[0].getData()[0]) <= set(near)
        assert bool(marks) == (not name.startswith("budget")), name
    draw("traces", plot, swept, PAPER)
    point_at("traces", plot, swept, fault, PAPER)
    low, high = plot.viewRange()[0]
    assert low < fault.time_s < fault.end_s < high < low + 3.0


def test_every_axis_text_names_its_unit(plot, swept):
    for name in FIGURES:
        draw(name, plot, swept, PAPER)
        for side in ("bottom", "left"):
            text = plot.getAxis(side).labelText
            counted = text == "return number" or (name.startswith("budget") and side == "left")
            assert counted or text.endswith(")"), (name, side, text)


def test_with_one_track_the_pair_figures_say_so_instead_of_failing():
    alone = findings(one_track=True)
    assert columns(alone) == ["a"]
    for name, figure in FIGURES.items():
        assert ("Only one track" in svg(name, alone)) == figure.needs_pair, name


def test_an_earlier_recording_is_laid_under_the_new_one(plot, swept):
    before = findings(shift_volts=0.05)
    draw("rest", plot, swept, PAPER, before=before)
    shown = [i.getData()[1] for i in plot.items if isinstance(i, pg.ScatterPlotItem)]
    assert any(np.array_equal(y, before.tracks["a"].rest_levels) for y in shown)
    for name in FIGURES:
        assert ET.fromstring(svg(name, swept, before=before)) is not None


def test_drawing_again_replaces_what_was_there(plot, swept):
    draw("traces", plot, swept, PAPER)
    first = len(plot.items), len(plot.legend.items)
    draw("traces", plot, swept, PAPER)
    assert (len(plot.items), len(plot.legend.items)) == first
    draw("play", plot, swept, PAPER)
    assert [label.text for _, label in plot.legend.items] == ["pressing", "letting go"]
    draw("play", plot, swept, PAPER.small())
    assert [label.text for _, label in plot.legend.items] == ["press", "release"]


def test_a_plot_that_was_bare_has_its_texts_when_it_is_drawn_whole(plot, swept):
    """A thumb has no room for words; made large, it has every one of them."""
    draw("traces", plot, swept, PAPER)
    names = [label.text for _, label in plot.legend.items]
    title, below = plot.titleLabel.text, plot.getAxis("bottom").labelText
    plot.bare = True
    draw("traces", plot, swept, PAPER)
    assert not plot.legend.items
    assert not plot.titleLabel.isVisible()
    plot.bare = False
    draw("traces", plot, swept, PAPER)
    assert [label.text for _, label in plot.legend.items] == names
    assert (plot.titleLabel.text, plot.getAxis("bottom").labelText) == (title, below)
    assert plot.legend.isVisible()
    assert plot.titleLabel.isVisible()


def test_no_sentence_lies_across_the_points_of_a_small_plot(plot):
    """Of one track alone the large plot of its noise says why its middle is empty."""
    made = open_findings(SAMPLES / "synthetic_one_track.csv")
    for bare in (True, False):
        plot.bare = bare
        draw("noise", plot, made, PAPER.small())
        said = [item for item in plot.items if isinstance(item, pg.TextItem)]
        assert len(said) == (not bare)
        points, = [item for item in plot.items if isinstance(item, pg.ScatterPlotItem)]
        assert len(points.data) == 2


def test_stretches_are_shaded_where_they_lie(plot_page, plot):
    """The colour of each pixel is that of the stretch at its time, between two stretches none.

    On the screen all stretches are painted as one row of pixels that is stretched over the height.
    """
    plot_page.resize(600, 300)
    plot_page.show()
    plot.addItem(Stretches([(10.0, 20.0, QColor("red")), (20.0, 30.0, QColor("blue")),
                            (50.0, 51.0, QColor("red"))]), ignoreBounds=True)
    plot.hideAxis("left")
    plot.hideAxis("bottom")
    plot.setRange(xRange=(0.0, 100.0), yRange=(0.0, 1.0), padding=0)
    QApplication.processEvents()
    image, box = plot_page.grab().toImage(), plot.getViewBox()
    for time_s, color in ((10.5, "red"), (19.5, "red"), (20.5, "blue"), (29.5, "blue"),
                          (50.5, "red"), (5.0, "black"), (40.0, "black"), (52.0, "black")):
        for share in (0.05, 0.5, 0.95):
            at = box.mapViewToScene(QPointF(time_s, share)).toPoint()
            assert image.pixelColor(at) == QColor(color), (time_s, share)


def test_unknown_figures_and_tracks_are_refused_in_one_line(plot, swept):
    with pytest.raises(BadCall, match="no figure 'pie'; there are traces, pair"):
        draw("pie", plot, swept, PAPER)
    with pytest.raises(BadCall, match="no track 'z' in these findings; there are a, b"):
        draw("rest", plot, swept, PAPER, column="z")


def test_missing_cells_and_lost_pairs_do_not_stop_a_figure(swept):
    hollow = recording()
    hollow.channels[0].readings[100:900] = np.nan
    for name in FIGURES:
        assert "<path" in svg(name, replace(swept, recording=hollow)), name


def test_a_cloud_keeps_its_outliers():
    random = np.random.default_rng(1)
    x = random.normal(size=500_000)
    y = x + random.normal(scale=0.01, size=x.size)
    y[1234] = 40.0
    _, kept = cells(x, y, 400)
    assert kept.size < 160_000
    assert kept.max() == 40.0


@pytest.mark.parametrize("look", [PAPER, NIGHT], ids=["light", "dark"])
def test_the_first_two_tracks_can_be_told_from_the_ground_and_from_each_other(look):
    def luminance(color):
        # W3C WCAG 2.2, definition of relative luminance.
        parts = [int(color[i:i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def contrast(one, other):
        high, low = sorted((luminance(one), luminance(other)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    for color in (*look.tracks[:2], look.fault, look.quiet):
        assert contrast(color, look.background) >= 3.0  # WCAG 2.2, 1.4.11: graphical objects
    assert contrast(look.foreground, look.background) >= 7.0  # WCAG 2.2, 1.4.6
    assert look.track_style(0) != look.track_style(1)
    assert look.track_symbol(0) != look.track_symbol(1)


def sentences_in(plot):
    return [i.toPlainText() for i in plot.items if isinstance(i, pg.TextItem)]


@pytest.mark.parametrize(("name", "more"), [("budget", {"column": "a"}), ("budgets", {})])
def test_without_a_dead_band_the_budget_says_so(plot, swept, name, more):
    draw(name, plot, replace(swept, dead_bands={}), PAPER, **more)
    assert sentences_in(plot) == ["There is no dead band to account for."]


def test_a_dead_band_that_is_not_known_is_not_shaded(plot, swept):
    """Its returns are drawn all the same; a shade to nowhere would pass for a measured one."""
    dead = replace(swept.dead_bands["a"], start_of_travel_volts=float("nan"))
    draw("rest", plot, replace(swept, dead_bands={"a": dead}), PAPER, column="a")
    assert not [i for i in plot.items if isinstance(i, pg.LinearRegionItem)]
    dots = next(i for i in plot.items if isinstance(i, pg.ScatterPlotItem))
    assert np.array_equal(dots.getData()[1], swept.tracks["a"].rest_levels)


def test_before_the_first_return_no_return_is_pointed_at(plot, swept):
    """A fault at the very beginning has no return before it."""
    draw("rest", plot, swept, PAPER, column="a")
    early = replace(swept.faults[0], time_s=0.0, end_s=0.01, channel="a")
    assert point_at("rest", plot, swept, early, PAPER, column="a") == []


def test_a_sweep_of_rests_alone_names_no_other_stretch(plot, swept):
    """The legend names the stretches that were seen, and no others."""
    rests = tuple(s for s in swept.segments if s.kind == "rest")
    draw("traces", plot, replace(swept, segments=rests), PAPER)
    named = [label.text for _, label in plot.legend.items]
    assert "rest" in named
    assert not {"press", "hold", "release"} & set(named)


def test_a_track_that_was_not_found_is_left_out_along_travel(plot, swept):
    """Of two inputs one gave no track: the other is drawn alone, earlier and now."""
    alone = replace(swept, tracks={"a": swept.tracks["a"]}, pair=None)
    draw("along", plot, swept, PAPER, before=alone)
    assert set(curves(plot)) == {"a", "b", "a before"}
    draw("noise", plot, swept, PAPER, before=alone)
    assert "b before" not in curves(plot)


def test_faults_of_a_sweep_without_tracks_are_listed_and_not_drawn(plot, swept):
    """There is no curve for them to stand on."""
    recording = replace(swept.recording, channels=tuple(
        replace(c, role="other") for c in swept.recording.channels))
    none = replace(swept, recording=recording, tracks={}, pair=None, dead_bands={})
    draw("traces", plot, none, PAPER)
    assert not [i for i in plot.items if isinstance(i, pg.ScatterPlotItem)]


def test_a_pair_without_a_second_track_has_a_plain_title():
    assert title_for("pair", findings(one_track=True), "").forms[0] == "Track against track"
