"""Values typed back from a controller are compared in its own unit, towards the safe side."""

import math
from dataclasses import replace

import pytest
from places import ROOT

from bench.errors import BadCall
from bench.services.findings import open_findings
from bench.services.typed_values import shown_unit, typed_back, volts_of_text


@pytest.fixture(scope="module")
def swept():
    return open_findings(ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv")


def test_counts_are_parts_of_the_supply():
    """By hand: 614 of 1024 counts on 5 V are 614 x 5 / 1024 = 2.998 V; 40 % of 5 V are 2 V."""
    counts = shown_unit("counts", 10, 5.0)
    assert volts_of_text("614", counts) == pytest.approx(614 * 5.0 / 1024)
    assert counts.shown(614 * 5.0 / 1024) == "614"
    percent = shown_unit("percent", None, 5.0)
    assert volts_of_text(" 40,0 ", percent) == pytest.approx(2.0)
    assert percent.shown(2.0) == "40.00"
    assert shown_unit("volts", None, 5.0).shown(2.0) == "2.000"


@pytest.mark.parametrize("bits", [None, 0, 33])
def test_counts_of_an_input_of_unknown_width_are_refused(bits):
    """A count says nothing without the number of them."""
    with pytest.raises(BadCall, match="add for example --bits 10"):
        shown_unit("counts", bits, 5.0)


@pytest.mark.parametrize("text", ["", "about 3", "nan", "inf"])
def test_what_is_no_number_was_not_typed(text):
    """And is never 0."""
    assert math.isnan(volts_of_text(text, shown_unit("volts", None, 5.0)))


def test_each_value_stands_where_it_is_safe_or_not(swept):
    """A start of travel above the issued one is safe, one below it is not."""
    start = next(s for s in swept.settings if (s.name, s.channel) == ("start_of_travel", "a"))
    name = "a.start_of_travel"

    def state(volts, findings=swept):
        return {t.name: t.state for t in typed_back(findings, volts)}[name]

    assert state({name: start.value}) == "as issued"
    assert state({name: start.value + 0.1}) == "safe side"
    assert state({name: start.value - 0.01}) == "unsafe side"
    assert state({}) == "not typed"
    assert state({name: "0.8"}) == "not typed"
    none = replace(swept, settings=tuple(replace(s, value=math.nan) for s in swept.settings))
    assert state({name: start.value}, none) == "none issued"
