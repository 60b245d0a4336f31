"""Every figure stands findings that hold NaN, infinities and absurd numbers."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pyqtgraph as pg
import pytest
from findings_by_hand import SAMPLES
from plot_findings_by_hand import findings

from analysis.key_on import analyse_key_on
from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import Findings
from bench.files.recording_file import read_recording
from bench.plots import FIGURES, PAPER, columns, draw, point_at
from bench.plots.key_on import KEY_ON_FIGURES, draw_key_on
from bench.plots.marks import Stretches

ODD = (float("nan"), float("inf"), -float("inf"), 1e308, -1e308, 5e-324, 0.0)


def spoiled(what, rng, share):
    """Return the same findings with a share of all numbers in them made odd.

    Recordings refuse odd times and channels odd scales, so there only the readings are spoiled.
    """
    if isinstance(what, Recording):
        return replace(what, channels=tuple(spoiled(c, rng, share) for c in what.channels))
    if isinstance(what, Channel):
        return replace(what, readings=spoiled(what.readings, rng, share))
    if isinstance(what, np.ndarray) and what.dtype.kind == "f":
        made = what.copy()
        hit = rng.random(made.shape) < share
        made[hit] = rng.choice(ODD, hit.sum())
        return made
    if isinstance(what, float):
        return float(rng.choice(ODD)) if rng.random() < share else what
    if is_dataclass(what) and not isinstance(what, type):
        made = object.__new__(type(what))
        for field in fields(what):
            object.__setattr__(made, field.name,
                               spoiled(getattr(what, field.name), rng, share))
        return made
    if isinstance(what, tuple):
        return tuple(spoiled(each, rng, share) for each in what)
    if hasattr(what, "items"):
        return {key: spoiled(each, rng, share) for key, each in what.items()}
    return what


def finite_view(plot):
    return np.isfinite(np.array(plot.viewRange())).all()


@pytest.fixture
def plot(plot_page):
    plot_page.resize(420, 260)
    return plot_page.addPlot(enableMenu=False)


def test_the_spoiler_spoils():
    """The helper reaches the numbers the figures draw."""
    made = spoiled(findings(), np.random.default_rng(0), 1.0)
    assert isinstance(made, Findings)
    assert all(b.total_volts in ODD or np.isnan(b.total_volts) for b in made.dead_bands.values())
    assert np.isin(made.pair.mismatch_percent[~np.isnan(made.pair.mismatch_percent)], ODD).all()


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("share", [0.1, pytest.param(0.5, marks=pytest.mark.long), 1.0])
def test_a_figure_stands_any_number(plot, name, share):
    """Drawn, painted and pointed at without an error, with a range that can be shown."""
    good = findings()
    for seed in range(3):
        odd = spoiled(good, np.random.default_rng(seed), share)
        for before in (None, odd):
            for column in columns(odd) if FIGURES[name].per_track else [None]:
                draw(name, plot, odd, PAPER.small(), column=column, before=before)
                for fault in odd.faults[:2]:
                    for mark in point_at(name, plot, odd, fault, PAPER, column=column):
                        plot.removeItem(mark)
                plot.scene().views()[0].grab()
                assert finite_view(plot)
    # And the next good recording is drawn as if nothing had been.
    draw(name, plot, good, PAPER.small())
    assert plot.items


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("name", KEY_ON_FIGURES)
def test_a_key_on_figure_stands_any_number(plot, name):
    """The same for the figures of a log in the car."""
    good = analyse_key_on(read_recording(SAMPLES / "synthetic_key_on_one_track_lifts.csv"))
    for share in (0.1, 0.5, 1.0):
        odd = spoiled(good, np.random.default_rng(3), share)
        draw_key_on(name, plot, odd, PAPER.small())
        plot.scene().views()[0].grab()
        assert finite_view(plot)
    draw_key_on(name, plot, good, PAPER.small())
    assert plot.items


def test_a_dead_band_that_is_not_known_is_not_called_infinite(plot):
    """The bar of an infinite item says that it is not known."""
    good = findings()
    band = next(iter(good.dead_bands.values()))
    unknown = replace(band, total_volts=float("inf"), items=(
        replace(band.items[0], volts=float("inf")), *band.items[1:]))
    draw("budget", plot, replace(good, dead_bands={**good.dead_bands, band.column: unknown}),
         PAPER, column=band.column)
    texts = [text for _, text in plot.getAxis("left")._tickLevels[0]]
    assert texts[0] == f"{band.items[0].name} (not known)"
    assert texts[-1] == "dead band not known"


def test_a_log_is_hatched_where_no_reading_came(plot):
    """Two seconds lost with the key on: no line and no shade across them.

    No outside source: issue 18 asks it of a sweep, and the log is read by the same eyes."""
    whole = read_recording(SAMPLES / "synthetic_key_on_quiet_car.csv")
    on = analyse_key_on(whole).cycles[0].on_s
    keep = ~((whole.time_s > on + 1.0) & (whole.time_s < on + 3.0))
    torn = replace(whole, time_s=whole.time_s[keep], marks=(), channels=tuple(
        replace(c, readings=c.readings[keep]) for c in whole.channels))
    draw_key_on("log", plot, analyse_key_on(torn), PAPER)
    hatched = [i for i in plot.items if isinstance(i, pg.LinearRegionItem)]
    gap = hatched[0].getRegion()
    assert gap == pytest.approx((on + 1.0, on + 3.0), abs=0.05)
    assert "no reading" in [text.text for _, text in plot.legend.items]
    shades = next(i for i in plot.items if isinstance(i, Stretches)).spans
    assert not any(start < gap[1] and end > gap[0] for start, end, _ in shades)
    time_s, volts = next(i for i in plot.items if isinstance(i, pg.PlotDataItem)).getData()
    assert np.isnan(volts[np.flatnonzero(time_s >= gap[1])[0]])
