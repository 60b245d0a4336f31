"""The user's template is filled exactly as written, and can do nothing else."""

import pytest
from findings_by_hand import DOCS, SETTINGS
from hypothesis import given
from hypothesis import strategies as st

from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.files.exports.export_document import sheet_of
from bench.files.exports.template import fill
from bench.files.exports.units import units_of


@pytest.mark.parametrize(("template", "filled"), [
    ("{start_of_travel.a}", "0.685"),
    ("{start_of_travel.a:.2f}", "0.69"),
    ("{start_of_travel.a.volts:.1f}", "0.7"),
    ("{full_travel.a:.2f}", "4.17"),
    ("{start_of_travel.b:.2f}", "4.31"),
    ("{start_of_travel.a.millivolts:d}", "685"),
    ("{start_of_travel.a.millivolts:06.0f}", "000685"),
    ("{start_of_travel.a.counts8}", "36"),
    ("{ start_of_travel.a : .2f }", "0.69"),
    ("{mismatch_limit}", "10.0"),
    ("{mismatch_limit:d}", "10"),
    ("{mismatch_time.milliseconds:+d}", "+100"),
    ("{rest.a.unit}|{rest.a.why}|{supply:.1f}", "V|median of 24 returns|5.0"),
    ("{{rest.a}} = {rest.a:5.1f} {{}}", "{rest.a} =   0.6 {}"),
    ("no placeholder\r\nat all\n", "no placeholder\r\nat all\n"),
    ("ünïcode {rest.a}", "ünïcode 0.600"),
])
def test_placeholders_are_filled(template, filled):
    assert fill(template, SETTINGS) == filled


@pytest.mark.parametrize(("template", "message"), [
    ("x\n  {start_of_travl.a}", "line 2, column 3.*did you mean {start_of_travel.a}"),
    ("{start_of_travel.a.milivolts}", "start_of_travel.a.millivolts"),
    ("{start_of_travel}", "did you mean {start_of_travel"),
    ("{Rest.A}", "unknown placeholder"),
    ("{}", "unknown placeholder"),
    ("{zzz}", "docs/templates.md"),
    ("{rest.a", "lone '{'"),
    ("rest.a}", "lone '}'"),
    ("{rest\n.a}", "not closed on its line"),
    ("{rest.a:x}", "not understood"),
    ("{rest.a:{rest.a}}", "lone '{'"),
    ("{rest.a:.99f}", "asks for too much"),
    ("{rest.a:999f}", "asks for too much"),
    ("{rest.a:.2d}", "no decimals"),
    ("{rest.a.counts99}", "counts1 to counts32"),
    ("{rest.a.why:.2f}", "is for a text"),
    ("{fault_low.b}", "could not be determined"),
    # What str.format would let through.
    ("{rest.a.__class__}", "unknown placeholder"),
    ("{rest.a!r}", "unknown placeholder"),
    ("{0.__init__.__globals__}", "unknown placeholder"),
    ("{rest[a]}", "unknown placeholder"),
])
def test_a_bad_placeholder_is_one_line_with_its_place(template, message):
    with pytest.raises(BadCall, match=message) as caught:
        fill(template, SETTINGS)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("template line ")


@pytest.mark.parametrize("name", ["mismatch_limit", "mismatch_limit.permille",
                                  "mismatch_time.milliseconds:d"])
def test_a_value_of_the_pair_says_that_there_is_no_second_track(name):
    """The placeholder is known and listed; what is missing is the track."""
    one = tuple(s for s in SETTINGS if s.channel == "a")
    with pytest.raises(BadCall, match="there is no second track in this recording") as caught:
        fill("limit {" + name + "}", one)
    assert "unknown" not in str(caught.value)
    assert str(caught.value).startswith("template line 1, column 7: ")
    both = tuple(s for s in SETTINGS if s.channel)
    with pytest.raises(BadCall, match="make no pair"):
        fill("{" + name + "}", both)
    with pytest.raises(BadCall, match="unknown placeholder"):
        fill("{mismatch_limits}", one)


def test_a_channel_may_have_dots_spaces_and_colons_in_its_name():
    odd = (Setting("rest", "ch.1 left:in", 0.5, "V", "made up"),)
    assert fill("{rest.ch.1 left:in}", odd) == "0.500"
    assert fill("{rest.ch.1 left:in.millivolts:.1f}", odd) == "500.0"


def test_every_setting_can_be_filled_in_each_of_its_units():
    known = [f"{s.name}.{s.channel}{unit}" if s.channel else f"{s.name}{unit}"
             for s in sheet_of(SETTINGS).settings if (s.name, s.channel) != ("fault_low", "b")
             for unit in ("", ".unit", ".why", *(
                 f".{u}".replace("countsN", "counts10") for u in units_of(s)))]
    assert "start_of_travel.a.percent_of_supply" in known
    for name in known:
        fill("{" + name + "}", SETTINGS)


@given(st.text(alphabet=st.sampled_from("{}:.arest_0fd!\n%("), max_size=30))
def test_any_text_is_filled_or_refused_with_one_line(template):
    said = ""
    try:
        fill(template, SETTINGS)
    except BadCall as error:
        said = str(error)
    assert "\n" not in said


def test_every_placeholder_in_the_documentation_is_known():
    text = (DOCS / "templates.md").read_text("utf-8")
    example = text[text.index("## Example"):]
    assert "685 mV" in fill(example, SETTINGS)
