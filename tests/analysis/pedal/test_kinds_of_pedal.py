"""What kind of pedal it is decides its words, faults and remedies; the header keeps it.

No outside source: the promise is the project's own. The volts are those put into each recording.
"""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from places import ROOT
from said import as_text, as_texts

from analysis.model.finding import OHMS_PER_VOLT, Reason
from analysis.model.pedal_kind import KIND_KEY, KINDS, USE_KEY
from analysis.model.recording import Channel
from analysis.parameters import Parameters
from analysis.pedal.compare import compare
from analysis.pedal.dead_band import INPUT
from analysis.pedal.findings import analyse, decide
from analysis.simulation import pedal_named, simulate_sweep
from bench.errors import BadCall
from bench.files.exports.brief_comparison import brief_comparison
from bench.files.exports.comparison import comparison_text
from bench.files.exports.findings_text import findings_text
from bench.files.exports.json_settings import settings_json
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.services.record import Order
from bench.services.settings import (
    brief_settings,
    convert,
    fill,
    settings_formats,
    sheet_of,
)
from bench.wording.reasons import in_words
from bench.wording.short import short_line

SAMPLES = ROOT / "sample_sweeps"


def sweep(name="healthy", **said):
    made = simulate_sweep(pedal_named(name), 200.0, 12, seed=3).recording
    return replace(made, extra={**made.extra, **said})


def everything_said(findings):
    """Return every sentence that a person reads of a sweep."""
    remedies = [r.why for several in findings.remedies.values() for r in several]
    return "\n".join([*as_texts(findings.graded), *as_texts(f.why for f in findings.faults),
                      *map(as_text, remedies), *map(short_line, findings.coded)])


@pytest.mark.parametrize("name", ["healthy", "worn-spot", "off-at-rest", "flat-spot"])
def test_a_hall_pedal_is_told_neither_to_trim_nor_of_a_worn_track(name):
    """Whatever it shows, and with a target too: nothing of it is a wiper or an element."""
    parameters = Parameters(target_rest_volts={"b": 0.70})
    findings = analyse(sweep(name, pedal_kind="hall"), parameters)
    said = everything_said(findings)
    for word in ("worn", "wiper", "potentiometer", " put ", " degrees"):
        assert word not in said
    assert "a Hall sensor has no track to turn" in said
    assert not any(np.isfinite(r.amount) for several in findings.remedies.values()
                   for r in several if r.kind != "dead band")


def test_the_same_readings_of_potentiometers_are_told_of_wear():
    """The words go by the kind alone; a parameter says it as the header does, and takes it back."""
    plain = analyse(sweep("worn-spot"))
    assert "worn track" in everything_said(plain)
    stated = decide(plain, Parameters(pedal_kind="hall"))
    assert "worn" not in everything_said(stated)
    assert stated.recording.pedal.kind == "hall"
    again = decide(stated, Parameters())
    assert everything_said(again) == everything_said(plain)
    assert again.recording.pedal == plain.recording.pedal


def test_a_sensor_with_its_own_reference_keeps_its_volts():
    """A supply of 5.25 V, 5 % high: volts as measured, no ratio taken of them."""
    made = sweep()
    high = tuple(replace(c, readings=c.readings / 1.05) if c.role == "track" else c
                 for c in made.channels)
    of_its_own = replace(made, channels=high, extra={**made.extra, KIND_KEY: "hall-fixed"})
    following = replace(of_its_own, extra={**made.extra, KIND_KEY: "hall"})
    supply = following.usual_supply_volts / following.nominal_volts
    own, ratio = analyse(of_its_own), analyse(following)
    assert own.tracks["a"].rest.value == pytest.approx(
        supply * ratio.tracks["a"].rest.value, rel=2e-3)
    lines = {i.name: i.volts for i in own.dead_bands["a"].items}
    # The board measured by a reference, and the controller does by a supply, each up to 2 % off.
    assert lines["supply"] == pytest.approx((1.02 / 0.98 - 1) * own.tracks["a"].rest.value)
    assert {i.name: i.volts for i in ratio.dead_bands["a"].items}["supply"] == 0.0


def test_a_driven_output_is_hardly_moved_by_a_load():
    """100 ohm into 100 kohm on 4.25 V: a divider of 1 in 1001, not the 5 kohm track's."""
    findings = analyse(sweep("opposed", pedal_kind="hall"))
    rest = findings.tracks["b"].rest.value
    line = next(i for i in findings.dead_bands["b"].items if i.name == INPUT)
    assert line.volts == pytest.approx(rest * 100 / 100_100, rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_the_recording_keeps_its_kind(tmp_path, kind):
    """Written and read again, the header says the same."""
    path = write_recording(tmp_path / "pedal.csv", sweep(pedal_kind=kind, pedal_use="brake"))
    read = read_recording(path)
    assert (read.pedal.kind, read.pedal.use, read.pedal.stated) == (kind, "brake", True)
    assert {KIND_KEY, USE_KEY} <= set(read.extra)


def test_a_kind_that_nobody_knows_counts_as_not_said():
    """A word of a later version is kept, and the pedal taken for what it was before."""
    pedal = sweep(pedal_kind="optical").pedal
    assert (pedal.kind, pedal.stated) == ("potentiometer", False)


MADE = simulate_sweep(pedal_named("healthy"), 250.0, 12, cycles=10, quick=4, seed=5)


def rheostat(rest_ohms, full_ohms, known=4700.0, series=0.0, **said):
    """Return a sweep of a two-wire rheostat, read by 12 bits of a 5 V supply: Ohm's law."""
    rng = np.random.default_rng(2)
    ohms = rest_ohms + (full_ohms - rest_ohms) * MADE.truth.pedal_travel_percent / 100
    ohms = np.maximum(ohms, 0.0) + series
    volts = 5.0 * ohms / (ohms + known) + rng.normal(0.0, 8e-4, ohms.size)
    counts = np.clip(np.floor(volts / 5.0 * 4096), 0, 4095)
    return replace(MADE.recording, channels=(Channel("r", "track", counts, "counts", 4096, 5.0),),
                   extra={"pedal_kind": "rheostat", **said})


def ohms_of(findings):
    """Return the values that are issued, in ohms as JSON says them."""
    rows = json.loads(settings_json(findings))["settings"]
    assert {row["unit"] for row in rows} == {"ohm"}
    return {row["name"]: row["value"] for row in rows}


@pytest.mark.parametrize(("rest", "full"), [(0.0, 5000.0), (5000.0, 0.0), (180.0, 4700.0)])
def test_a_rheostat_is_stated_in_ohms(rest, full):
    """Levels as put in, to what 12 bits tell at 5 kohm (1.2 mV are 5 ohm there).

    Full travel gives away what 2 % of an unrecorded supply make of R = known v / (supply - v):
    2 % x 5000 x (1 + 5000 / 4700) = 206 ohm.
    """
    findings = analyse(rheostat(rest, full))
    values, sign = ohms_of(findings), np.sign(full - rest)
    assert values["rest"] == pytest.approx(rest, abs=8)
    assert 0 < sign * (values["start_of_travel"] - rest) < 500
    assert sign * (values["start_of_travel"] - values["release"]) > 0
    assert 0 <= sign * (full - values["full_travel"]) < 250
    assert not findings.faults
    assert "ohm" in brief_settings(findings, sheet_of(findings), PATH)


PATH = SAMPLES / "synthetic_one_track.csv"


def test_0_ohm_is_no_clipping_and_no_broken_lead():
    """It reads 0 counts at rest, which of a potentiometer would be the end of the input's range."""
    told = rheostat(0.0, 5000.0)
    assert np.mean(told.channels[0].readings == 0) > 0.1
    assert not {f.kind for f in analyse(told).faults} & {"clipping", "open or short", "dropout"}
    plain = analyse(replace(told, extra={}))
    assert "clipping" in {f.kind for f in plain.faults}


def test_its_resistors_are_as_the_header_or_the_user_says():
    """470 ohm in series and 2.2 kohm known: the controller's ohms are without the series one."""
    made = rheostat(100.0, 4900.0, known=2200.0, series=470.0)
    silent = analyse(made)
    assert "2200" not in everything_said(silent)
    assert "The known resistor was not stated: 4700 ohm is assumed" in everything_said(silent)
    said = analyse(made, Parameters(rheostat_known_ohms=2200.0, rheostat_series_ohms=470.0))
    kept = analyse(replace(made, extra={**made.extra, "rheostat_known_ohms": 2200.0,
                                        "rheostat_series_ohms": 470.0}))
    usual = analyse(rheostat(100.0, 4900.0), Parameters(rheostat_known_stated=True))
    for stated in (said, kept, usual):
        assert "is assumed, and every value in ohms" not in everything_said(stated)
    assert ohms_of(said)["rest"] == ohms_of(kept)["rest"] == pytest.approx(100.0, abs=8)
    assert ohms_of(decide(analyse(made), said.parameters))["rest"] == ohms_of(said)["rest"]


def test_its_trim_is_a_resistor_in_series_or_across_it():
    """100 ohm to 200: 100 in series. 400 to 380: about 7.6 kohm across."""
    up = analyse(rheostat(100.0, 4900.0), Parameters(target_rest_volts={"r": 200.0}))
    trim = next(r for r in up.remedies["r"] if r.kind == "trim resistor")
    assert trim.amount == pytest.approx(100.0, abs=10)
    assert "in series with the rheostat" in as_text(trim.why)
    down = analyse(rheostat(400.0, 4200.0), Parameters(target_rest_volts={"r": 380.0}))
    trim = next(r for r in down.remedies["r"] if r.kind == "trim resistor")
    rest = 2000 * down.tracks["r"].rest.value
    # E24 nearest to R R' / (R - R') (Ohm's law, two resistors side by side).
    assert trim.amount == pytest.approx(rest * 380 / (rest - 380), rel=0.06)
    assert 2000 * trim.rest_volts == pytest.approx(rest * trim.amount / (rest + trim.amount))


def test_a_template_has_its_values_in_ohms():
    """Without a unit, and as ohms: the same whole number."""
    sheet = sheet_of(analyse(rheostat(0.0, 5000.0)))
    bare, named, whole = fill(
        "{full_travel.r} {full_travel.r.ohms} {track_ohms:.0f}", sheet).split()
    assert bare == named
    assert whole == "5000"


VOLTS = re.compile(r"[0-9] ?(m?V|volts?)\b")


def test_every_format_and_sentence_of_a_rheostat_speaks_of_ohms():
    """No level of it stands in volts anywhere: sheets, sentences, remedies, C header."""
    findings = analyse(rheostat(180.0, 4700.0), Parameters(
        target_rest_volts={"r": 100.0}, rheostat_known_stated=True))
    said = everything_said(findings)
    assert not VOLTS.search(said), VOLTS.search(said)
    assert not VOLTS.search(findings_text(findings))
    for form, write in settings_formats().items():
        text = write(sheet_of(findings))
        levels = [line for line in text.splitlines()
                  if "nominal_volts" not in line and "SUPPLY_MV" not in line]
        assert not VOLTS.search("\n".join(levels)), form
    assert "#define PEDAL_R_START_OF_TRAVEL_OHMS " in settings_formats()["c"](findings)
    with pytest.raises(BadCall, match="its volts are its controller's own"):
        convert(sheet_of(findings).settings[0], "volts", sheet_of(findings))


def test_two_rheostats_on_one_shaft_are_told_in_ohms():
    """What holds of the pair is in ohms too."""
    one, other = rheostat(180.0, 4700.0), rheostat(900.0, 3200.0)
    second = replace(other.channels[0], column="s")
    findings = analyse(replace(one, channels=(*one.channels, second)), Parameters(
        target_rest_volts={"r": 300.0, "s": 1000.0}, rheostat_known_stated=True))
    assert findings.pair is not None
    said = everything_said(findings) + findings_text(findings)
    assert not VOLTS.search(said), VOLTS.search(said)


@pytest.mark.parametrize(("code", "values"), [
    ("short of the stop", {"lowest_volts": 2.0, "highest_volts": 2.25}),
    ("passed at rest", {"time_s": 3.0, "volts": 0.5, "start_volts": 0.25}),
    ("wanders", {"track": "r", "lowest_volts": 0.5, "highest_volts": 2.5})])
def test_a_reason_of_a_rheostat_names_no_volts(code, values):
    """2000 ohm for each volt of its scale: 0.5 V is 1000 ohm."""
    said = in_words(Reason(code, {**values, OHMS_PER_VOLT: 2000.0}))
    assert not VOLTS.search(said), said
    assert said.count(" ohm") == sum(name.endswith("volts") for name in values), said


def test_a_resistor_that_is_said_before_the_sweep_is_kept_and_not_assumed():
    """The order's header keys are the ones that the analysis reads."""
    order = Order(kind="rheostat", rheostat={"rheostat_known_ohms": 4700.0})
    findings = analyse(replace(rheostat(180.0, 4700.0), extra=order.said))
    assert findings.recording.rheostat.known_ohms == 4700.0
    assert "known resistor assumed" not in {f.code for f in findings.graded}


def test_two_sweeps_of_a_rheostat_are_compared_in_ohms():
    """Its rest moved from 180 to 260 ohm: told so, and no level in volts."""
    one, other = analyse(rheostat(180.0, 4700.0)), analyse(rheostat(260.0, 4700.0))
    found = compare(one, other)
    rest = next(m for m in found.moves if m.name == "rest")
    assert rest.unit == "ohm"
    assert rest.change == pytest.approx(80.0, abs=8)
    text = comparison_text(found, "first.csv", "second.csv") + brief_comparison(
        found, "first.csv", "second.csv")
    assert not VOLTS.search(text), VOLTS.search(text)


def test_two_sweeps_of_one_rheostat_under_two_full_ohms_show_no_move():
    """The same readings, called one of 5000 ohm and then one of 10000: they are the same ohms."""
    made = rheostat(180.0, 4700.0)
    said = [analyse(replace(made, extra={**made.extra, "rheostat_full_ohms": full}))
            for full in (5000.0, 10000.0)]
    for one, other in (said, said[::-1]):
        moves = {m.name: m for m in compare(one, other).moves}
        assert not [m.name for m in moves.values() if m.real]
        assert moves["rest"].before == pytest.approx(180.0, abs=8)
        assert moves["rest"].after == pytest.approx(180.0, abs=8)

