"""Settings leave in every format as they are, rounded to the safe side, harmless to the reader."""

import csv
import io
import json
import math
import shutil
import subprocess
import tomllib
from dataclasses import replace

import jsonschema
import pytest
from findings_by_hand import DOCS, SAMPLES, SETTINGS
from hypothesis import given
from hypothesis import strategies as st

from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.files.exports import settings_formats
from bench.files.exports.c_header import comment, identifiers, settings_c_header
from bench.files.exports.csv_settings import safe_cell
from bench.files.exports.export_document import Sheet, sheet_of
from bench.files.exports.units import convert
from bench.services.findings import open_findings

SWEEPS = [p for p in sorted(SAMPLES.glob("*.csv")) if "key_on" not in p.stem]
KNOWN = tuple(s for s in SETTINGS if math.isfinite(s.value))


def renamed(name: str) -> tuple[Setting, ...]:
    """Return the settings with track `a` under another name and in every reason."""
    return tuple(replace(s, channel=name if s.channel == "a" else s.channel,
                         why=f"{name} {s.why}") for s in SETTINGS)


@pytest.mark.parametrize("name", list(settings_formats()))
def test_every_format_says_what_could_not_be_determined(name):
    text = settings_formats()[name](SETTINGS)
    assert "no press reached full travel" in text
    assert "nan" not in text.lower().replace("finance", "")
    assert text.endswith("\n")


def test_json_obeys_the_published_schema():
    # JSON Schema draft 2020-12, checked by the jsonschema library.
    schema = json.loads((DOCS / "settings.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    made = json.loads(settings_formats()["json"](SETTINGS), parse_constant=pytest.fail)
    jsonschema.validate(made, schema)
    values = {(s["name"], s["channel"]): s["value"] for s in made["settings"]}
    assert values == {(s.name, s.channel): s.value if math.isfinite(s.value) else None
                      for s in SETTINGS}


@pytest.mark.parametrize("sample", SWEEPS, ids=lambda p: p.stem)
def test_what_real_findings_give_obeys_the_schema_too(sample):
    schema = json.loads((DOCS / "settings.schema.json").read_text("utf-8"))
    findings = open_findings(sample)
    made = json.loads(settings_formats()["json"](findings, sample), parse_constant=pytest.fail)
    jsonschema.validate(made, schema)
    assert made["settings"]
    for name in ("csv", "toml", "c", "text"):
        assert settings_formats()[name](findings, sample)


def test_schema_refuses_a_sheet_with_a_missing_reason():
    schema = json.loads((DOCS / "settings.schema.json").read_text("utf-8"))
    made = json.loads(settings_formats()["json"](SETTINGS))
    del made["settings"][0]["why"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(made, schema)


def test_toml_reads_back_with_the_standard_library():
    made = tomllib.loads(settings_formats()["toml"](renamed('a "b" \\ \x7f\t😀')))
    first = made["setting"][1]
    assert (first["name"], first["channel"], first["value"]) == (
        "start_of_travel", 'a "b" \\ \x7f\t😀', 0.6842)
    assert "value" not in next(s for s in made["setting"] if s["name"] == "fault_low"
                               and s["channel"] == "b")


def test_csv_reads_back_and_has_the_line_ends_of_rfc_4180():
    text = settings_formats()["csv"](renamed('a, "left"'))
    # RFC 4180 section 2: CRLF after every line, quotes doubled.
    assert text.count("\r\n") == text.count("\n") == len(SETTINGS) + 1
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert float(rows[1]["value"]) == 0.6842
    assert rows[1]["why"].startswith('a, "left" above')


@given(st.text(alphabet=st.sampled_from("=+-@＝＋－＠ \t\r\n,;|'\"a1\x00\u2028"), max_size=12))
def test_no_text_cell_can_start_a_formula_however_the_line_is_split(text):
    cell = safe_cell(text)
    # Signs a spreadsheet takes for a formula: OWASP, "CSV Injection" (tab and CR included).
    for separator in ",;\t|\"'":
        for part in [cell, *cell.split(separator)]:
            stripped = part.lstrip()
            if separator == "'" and part is not cell:
                continue  # an apostrophe at the start is what disarms it
            assert not stripped.startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))
    assert not any(ord(c) < 32 for c in cell)


@given(st.text(max_size=20), st.text(max_size=20))
def test_c_identifiers_are_valid_and_never_shared(first, second):
    names = identifiers([first, second, "A", "A_2"])
    made = [names[c] for c in dict.fromkeys([first, second, "A", "A_2"])]
    assert len(set(made)) == len(made)
    assert all(f"PEDAL_{n}_REST_V".isidentifier() and n.isascii() for n in made)


@given(st.text(max_size=40))
def test_a_reason_cannot_end_its_c_comment(text):
    made = comment(text)
    assert "*/" not in made
    assert "/*" not in made
    assert "\\" not in made
    assert "??" not in made
    assert made.isascii()
    assert "\n" not in made


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no C compiler")
@pytest.mark.parametrize("name", ["a", "1st track", "läufer +/- */ #define X \\", "int", "++"])
def test_c_header_compiles_as_c90_and_gives_the_values(tmp_path, name):
    (tmp_path / "settings.h").write_text(settings_c_header(renamed(name)), "utf-8")
    stem = "PEDAL_" + identifiers([name])[name]
    (tmp_path / "main.c").write_text(
        '#include <stdio.h>\n#include "settings.h"\n#include "settings.h"\n'
        f'int main(void) {{ printf("%ld %.3f %ld %ld", {stem}_START_OF_TRAVEL_MV, '
        f"{stem}_START_OF_TRAVEL_V, {stem}_FULL_TRAVEL_COUNTS10, PEDAL_MISMATCH_TIME_MS); "
        "return 0; }\n", "utf-8")
    program = tmp_path / "main"
    subprocess.run(["gcc", "-std=c90", "-pedantic-errors", "-Wall", "-Wextra", "-Werror",
                    str(tmp_path / "main.c"), "-o", str(program)], check=True, timeout=60)
    said = subprocess.run([program], capture_output=True, text=True, check=True, timeout=10)
    # 0.6842 V up to the next mV; 4.1788 / 5 * 1024 = 855.8 counts down; both towards safety.
    assert said.stdout == "685 0.685 855 100"


@pytest.mark.parametrize(("name", "channel", "unit", "value"), [
    # Rising track: start grows, full travel shrinks; fault limits close in on the sound pedal.
    ("start_of_travel", "a", "millivolts", 685), ("release", "a", "millivolts", 662),
    ("full_travel", "a", "millivolts", 4178), ("fault_low", "a", "millivolts", 301),
    ("fault_high", "a", "millivolts", 4700), ("rest", "a", "millivolts", 600),
    ("start_of_travel", "a", "counts10", 141), ("start_of_travel", "a", "counts12", 561),
    ("start_of_travel", "a", "percent_of_supply", 13.7), ("start_of_travel", "a", "ohms", 685),
    ("start_of_travel", "a", "ohms_from_top", 4315),
    # Falling track: away from rest is downwards.
    ("start_of_travel", "b", "millivolts", 4316), ("full_travel", "b", "millivolts", 822),
    ("start_of_travel", "b", "ohms_from_top", 684),
])
def test_every_unit_is_rounded_to_the_safe_side(name, channel, unit, value):
    sheet = sheet_of(SETTINGS)
    setting = next(s for s in SETTINGS if (s.name, s.channel) == (name, channel))
    assert convert(setting, unit, sheet).rounded() == value


def test_units_follow_the_supply_the_volts_are_stated_at():
    setting = Setting("rest", "a", 1.5, "V", "made up")
    # 1.5 V of 3.3 V on 12 bits: 1.5 / 3.3 * 4096 = 1861.8.
    assert convert(setting, "counts12", Sheet((setting,), nominal_volts=3.3)).rounded() == 1862


def test_counts_never_exceed_what_the_input_can_read():
    setting = Setting("fault_high", "a", 5.0, "V", "made up")
    # The last code is 1023: no reading lies above it, so a limit there would never trip.
    assert convert(setting, "counts10", Sheet((setting,))).rounded() == 1022


def test_a_level_restated_in_counts_keeps_the_schema_and_the_header():
    sheet = sheet_of(SETTINGS)
    restated = tuple(
        replace(s, unit="counts of 10 bits", value=convert(s, "counts10", sheet).rounded())
        if s.unit == "V" and math.isfinite(s.value) else s for s in SETTINGS)
    schema = json.loads((DOCS / "settings.schema.json").read_text("utf-8"))
    jsonschema.validate(json.loads(settings_formats()["json"](restated)), schema)
    assert "#define PEDAL_A_START_OF_TRAVEL_COUNTS_OF_10_BITS 141\n" in settings_c_header(restated)


def test_a_unit_that_does_not_apply_names_those_that_do():
    limit = next(s for s in SETTINGS if s.name == "mismatch_limit")
    with pytest.raises(BadCall, match="percent or permille"):
        convert(limit, "volts", sheet_of(SETTINGS))


def test_file_and_checksum_of_the_recording_are_stated(tmp_path):
    path = tmp_path / "sweep.csv"
    path.write_bytes(b"abc")
    # SHA-256 of "abc": FIPS 180-2, appendix B.1.
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    for name in ("text", "json", "toml", "c"):
        text = settings_formats()[name](SETTINGS, path)
        assert known in text
        assert "sweep.csv" in text


@pytest.mark.parametrize("unit", ["counts8", "counts10", "counts12"])
@pytest.mark.parametrize("sign", [1, -1])
def test_one_code_lies_between_release_and_start_of_travel(unit, sign):
    # Adjacent codes are no hysteresis: a reading on the edge between two codes shows both.
    side = "up" if sign > 0 else "down"
    release = Setting("release", "a", 2.5 + sign * 0.2000, "V", "", side)
    start = Setting("start_of_travel", "a", 2.5 + sign * 0.2001, "V", "", side)
    sheet = Sheet((release, start))
    gap = convert(start, unit, sheet).rounded() - convert(release, unit, sheet).rounded()
    assert gap * sign == 2
    # Nothing is widened where the unit is fine enough.
    far = replace(start, value=2.5 + sign * 0.4)
    fine = Sheet((release, far))
    assert convert(far, unit, fine).rounded() == convert(far, unit, Sheet((far,))).rounded()
