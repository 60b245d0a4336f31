"""A long recording is drawn by few points, and no reading that stands out is lost by that."""

from dataclasses import replace

import numpy as np
import pyqtgraph as pg
import pytest
from plot_findings_by_hand import findings, recording

from bench.plots import PAPER, draw
from bench.plots.long_curve import LongCurve
from bench.plots.marks import Stretches
from bench.plots.readings import RAW_ROWS, Readings, readings_of

ROWS = 200_000


@pytest.fixture(scope="module")
def long():
    """Ten minutes of a track at 1 V with one reading of 4 V and a second without readings."""
    made = recording()
    time_s = np.arange(ROWS) / 333.0
    volts = np.ones(ROWS)
    volts[123_457] = 4.0
    volts[50_000:50_333] = np.nan
    first = made.with_role("track")[0]
    channel = replace(first, readings=volts, unit="V", reading_step=0.001, scale=1.0,
                      offset_volts=0.0)
    return replace(made, time_s=time_s, channels=(channel,), marks=())


def test_a_single_reading_that_stands_out_is_drawn_and_so_is_a_gap(plot_page, long):
    """No outside source: the promise is the project's own. One row of 200 000, and 0.17 % of the
    whole without a reading: wider than a pixel of 600."""
    plot = plot_page.addPlot(enableMenu=False)
    column = long.channels[0].column
    curve = LongCurve(readings_of(long), column, 1.0, name=column)
    plot.addItem(curve)
    plot.getViewBox().updateAutoRange()
    time_s, volts = curve.getData()
    assert time_s.size < 5000 < ROWS
    assert np.nanmax(volts) == 4.0
    assert np.nanmin(volts) == 1.0
    assert np.isnan(volts).any()
    assert abs(time_s[np.nanargmax(volts)] - long.time_s[123_457]) < 1.0
    # Looked at closely, every reading is there as it was read.
    plot.setXRange(long.time_s[123_400], long.time_s[123_500], padding=0)
    time_s, volts = curve.getData()
    assert time_s.size < RAW_ROWS
    near = slice(int(np.searchsorted(long.time_s, time_s[0])), None)
    assert np.array_equal(time_s, long.time_s[near][: time_s.size])
    assert np.count_nonzero(volts == 4.0) == 1
    # And the whole is still what the plot goes back to.
    assert curve.dataBounds(0) == [long.time_s[0], long.time_s[-1]]
    assert curve.dataBounds(1) == [1.0, 4.0]


@pytest.mark.parametrize(("first", "last"), [(0, 1), (0, 20_000), (777, 90_001), (3, ROWS)])
def test_what_is_in_view_has_the_extremes_of_its_own_rows(long, first, last):
    """Whatever part is in view: numpy's own minimum and maximum of the same rows are drawn, and
    nothing of rows further away than a bin is."""
    made, column = readings_of(long), long.channels[0].column
    begin, end = long.time_s[first], long.time_s[last - 1]
    time_s, volts = made.seen(column, begin, end, 1000)
    inside = long.channels[0].readings[first:last]
    bin_s = (end - begin) / 1000 + 2 * 64 / 333.0
    assert time_s[0] >= begin - bin_s
    assert time_s[-1] <= end + bin_s
    assert np.nanmax(volts) >= np.nanmax(inside)
    assert np.nanmin(volts) <= np.nanmin(inside)
    wider = long.channels[0].readings[max(first - 400, 0): last + 400]
    assert np.nanmax(volts) <= np.nanmax(wider)


@pytest.mark.parametrize("rows", [6000, ROWS])
def test_nothing_is_drawn_or_shaded_across_a_time_without_rows(plot_page, rows):
    """A cable that was out for 2 s: the line ends at its last reading and begins at the next one.

    No outside source: the promise is the project's own, as of the live picture.
    """
    swept = findings()
    made = swept.recording
    time_s = np.arange(rows) * swept.recording.time_s[-1] / rows
    middle = rows // 2
    time_s[middle:] += 2.0
    tracks = tuple(replace(c, readings=np.full(rows, 1.0), unit="V", reading_step=0.001, scale=1.0,
                           offset_volts=0.0) for c in made.with_role("track"))
    torn = replace(made, time_s=time_s, channels=tracks, marks=())
    gap = (float(time_s[middle - 1]), float(time_s[middle]))
    assert readings_of(torn).gaps == [gap]
    plot = plot_page.addPlot(enableMenu=False)
    segment = replace(swept.segments[0], start_s=0.0, end_s=float(time_s[-1]))
    draw("traces", plot, replace(swept, recording=torn, segments=(segment,), faults=()), PAPER)
    curve = next(i for i in plot.items if isinstance(i, LongCurve))
    drawn_s, volts = curve.getData()
    broken = np.flatnonzero(np.isnan(volts))
    assert broken.size == 1
    # A thousand bins or more, and blocks of 64 rows.
    bin_s = max(1.0 / 1000.0, 64.0 / rows) * time_s[-1]
    assert drawn_s[broken[0] - 1] == pytest.approx(gap[0], abs=bin_s)
    assert drawn_s[broken[0] + 1] == pytest.approx(gap[1], abs=bin_s)
    shaded = next(i for i in plot.items if isinstance(i, Stretches))
    assert [(a, b) for a, b, _ in shaded.spans] == [(0.0, gap[0]), (gap[1], float(time_s[-1]))]
    hatched = next(i for i in plot.items if isinstance(i, pg.LinearRegionItem))
    assert hatched.getRegion() == gap
    assert "no reading" in [text.text for _, text in plot.legend.items]


@pytest.mark.parametrize(("row", "place"), [(127, 2), (128, 2), (129, 4), (255, 4), (256, 4)])
def test_a_line_ends_before_the_first_bin_behind_a_gap(row, place):
    """Bins of 128 rows, two points each. By hand: row 128 begins the second bin, so the line ends
    before it; a gap within a bin ends it behind that bin, whose two points hold both its sides."""
    made = Readings(np.arange(512.0), {}, np.array([row]))
    _, volts = made.apart(np.repeat(np.arange(4.0), 2), np.ones(8), 0, 128, 2)
    assert np.flatnonzero(np.isnan(volts)).tolist() == [place]


def test_rows_that_come_in_heaps_leave_no_gaps(long):
    """Forty rows under one time stamp, every 0.2 s, as a slow program writes them.

    No outside source: the promise is the project's own."""
    heaps = replace(long, time_s=np.floor(np.arange(ROWS) / 40.0) * 0.2)
    assert readings_of(heaps).gaps == []


def test_readings_are_worked_out_once_and_let_go_of(long):
    """No outside source: the promise is the project's own."""
    kept = replace(long)
    made = readings_of(kept)
    assert isinstance(made, Readings)
    assert readings_of(kept) is made
    assert readings_of(replace(long)) is not made


def test_half_an_hour_is_not_drawn_anew_as_the_page_is_laid_out(plot_page):
    """The ranges are set: another size of the plot changes nothing of what is in view.

    No outside source: left to themselves they changed with every size, and all was painted again.
    """
    plot = plot_page.addPlot(enableMenu=False)
    swept = findings()
    plot_page.resize(900, 500)
    draw("traces", plot, swept, PAPER)
    before = plot.viewRange()
    times = swept.recording.time_s
    assert before[0][0] < times[0] < times[-1] < before[0][1]
    plot_page.resize(500, 400)
    assert plot.viewRange() == before
