"""`findings` and `settings`: the faces others rely on, and what they say to bad input."""

import csv
import io
import json
import math
from pathlib import Path

import pytest
from places import ROOT

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"
SWEEPS = sorted(p for p in SAMPLES.glob("synthetic_*.csv") if "key_on" not in p.name)
OFF = SAMPLES / "synthetic_off_at_rest.csv"

Out = pytest.CaptureFixture[str]


def _json(capsys: Out, *words: str) -> dict:  # type: ignore[type-arg]
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("path", SWEEPS, ids=lambda p: p.stem)
def test_json_has_every_key_of_the_agreed_face(path: Path, capsys: Out) -> None:
    """Every sample gives JSON alone on stdout, with the agreed keys, names and kinds."""
    found = _json(capsys, "findings", str(path))
    assert found["schema"] == 1
    assert {"title", "rows", "complete", "lost_samples"} <= found["recording"].keys()
    for segment in found["segments"]:
        assert segment["kind"] in ("rest", "press", "hold", "release")
        assert segment["start_s"] <= segment["end_s"]
    for track in found["tracks"].values():
        assert {"rest_volts", "rest_scatter_volts", "noise_volts", "full_volts", "span_volts",
                "direction"} <= track.keys()
        assert track["direction"] in ("rising", "falling")
        assert track["span_volts"] > 0
    if len(found["tracks"]) > 1:
        assert {"relation", "gain", "offset_volts", "mismatch_max_percent",
                "mismatch_at_travel_percent", "mismatch_at_rest_percent"} <= found["pair"].keys()
    else:
        assert found["pair"] is None
    for fault in found["faults"]:
        assert {"kind", "channel", "time_s", "travel_percent", "text"} <= fault.keys()
    names = {(s["name"], s["channel"]) for s in found["settings"]}
    for column in found["tracks"]:
        assert {(n, column) for n in ("rest", "start_of_travel", "release", "full_travel",
                                      "fault_low", "fault_high")} <= names
    assert all(s["why"] for s in found["settings"])


@pytest.mark.parametrize("path", SWEEPS, ids=lambda p: p.stem)
def test_levels_stand_in_their_order(path: Path, capsys: Out) -> None:
    """From rest to full: rest, release, start of travel, full travel; fault limits outside."""
    found = _json(capsys, "findings", str(path))
    for column, track in found["tracks"].items():
        value = {s["name"]: s["value"] for s in found["settings"] if s["channel"] == column}
        sign = 1 if track["direction"] == "rising" else -1
        order = [value[n] for n in ("rest", "release", "start_of_travel", "full_travel")]
        known = [sign * v for v in order if v is not None]
        assert known == sorted(known)
        inside = [v for v in order if v is not None]
        assert value["fault_low"] is None or value["fault_low"] < min(inside)
        assert value["fault_high"] is None or value["fault_high"] > max(inside)


def test_text_says_which_track_is_off_and_how_to_mend_it(capsys: Out) -> None:
    """The sheet for a person names the track that is off, and three remedies."""
    assert main(["findings", str(OFF), "--more"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "track b rests 159 mV further towards pressed than track a" in text
    for remedy in ("- turn of b:", "trim resistor of b:", "- dead band of b:"):
        assert remedy in text


def test_strict_fails_what_must_be_mended_only(capsys: Out) -> None:
    """--strict ends with 1 on a faulty pedal and with 0 on a sound one."""
    assert main(["findings", str(SAMPLES / "synthetic_healthy_pair.csv"), "--strict"]) == 0
    assert main(["findings", str(SAMPLES / "synthetic_wiper_dropouts.csv"), "--strict"]) == 1
    assert main(["findings", str(SAMPLES / "synthetic_wiper_dropouts.csv")]) == 0
    capsys.readouterr()


def test_a_stuck_return_withdraws_the_promise(capsys: Out) -> None:
    """A pedal that did not come back is named, and no dead band is called proven."""
    found = _json(capsys, "findings", str(SAMPLES / "synthetic_stuck_return.csv"))
    assert [f["kind"] for f in found["faults"]] == ["no return"]
    assert all("did not come back" in band["weak"] for band in found["dead_bands"].values())


def test_a_cut_file_is_used_and_told(capsys: Out) -> None:
    """A file without its end is analysed as far as it goes, and the user is told."""
    found = _json(capsys, "findings", str(SAMPLES / "synthetic_cut_short_file.csv"))
    assert found["recording"]["complete"] is False
    assert any("cut short" in note for note in found["notes"])


def test_parameters_reach_the_numbers(capsys: Out) -> None:
    """A larger allowance for the car moves start of travel by exactly as much."""
    def start(*more: str) -> float:
        found = _json(capsys, "findings", str(OFF), *more)
        return next(s["value"] for s in found["settings"]
                    if (s["name"], s["channel"]) == ("start_of_travel", "a"))

    assert start("--car-allowance-volts", "0.1") - start(
        "--car-allowance-volts", "0.03") == pytest.approx(0.07)


def test_counts_are_rounded_to_the_safe_side(capsys: Out) -> None:
    """In counts start of travel is never below its volts, full travel never above."""
    volts = {(s["name"], s["channel"]): s["value"]
             for s in _json(capsys, "settings", str(OFF))["settings"]}
    assert main(["settings", str(OFF), "--unit", "counts", "--bits", "10", "--format",
                 "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    counts = {(r["name"], r["channel"] or None): r for r in rows}
    for track in "ab":
        whole = {n: math.ceil(volts[n, track] * 1024 / 5) for n in ("start_of_travel", "release")}
        # One code at least lies between both, or a reading on the edge of two would chatter.
        whole["start_of_travel"] = max(whole["start_of_travel"], whole["release"] + 2)
        for name, value in whole.items():
            assert counts[name, track]["unit"] == "counts of 10 bits"
            assert float(counts[name, track]["value"]) == value
        assert float(counts["full_travel", track]["value"]) == math.floor(
            volts["full_travel", track] * 1024 / 5)


@pytest.mark.parametrize("form", ["text", "json", "csv", "toml", "c"])
def test_no_sheet_leaves_without_what_forbids_driving(form: str, capsys: Out) -> None:
    """Settings of a pedal that lets go carry that sentence in every format, and on stderr."""
    path = str(SAMPLES / "synthetic_wiper_dropouts.csv")
    assert main(["settings", path, "--format", form]) == 0
    out, err = capsys.readouterr()
    assert "Do not drive" in " ".join(out.split())
    assert "warning: Do not drive" in err


def test_settings_of_a_sound_pedal_carry_no_warning(capsys: Out) -> None:
    """A sound pedal's sheet has an empty list of warnings."""
    found = _json(capsys, "settings", str(SAMPLES / "synthetic_healthy_pair.csv"))
    assert found["warnings"] == []


def test_a_template_is_not_written_over(tmp_path: Path, capsys: Out) -> None:
    """The list a user wrote once is there for the next recording."""
    template = tmp_path / "list.txt"
    template.write_text("start {start_of_travel.a}\n", encoding="utf-8")
    words = ["settings", str(OFF), "--template", str(template), "--out"]
    assert main([*words, str(template)]) == 2
    assert "choose another --out" in capsys.readouterr().err
    assert template.read_text("utf-8") == "start {start_of_travel.a}\n"
    assert main([*words, str(tmp_path / "filled.txt")]) == 0


@pytest.mark.parametrize(("target", "said"), [
    ("c=0.8", "the tracks are a, b"), ("a=9", "between 0 and the supply"),
])
def test_targets_that_cannot_be_are_refused(target: str, said: str, capsys: Out) -> None:
    """A target for a track that is not there, or beyond the supply, is not swallowed."""
    assert main(["findings", str(OFF), "--target-rest", target]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("words", [
    ["findings", "no such file.csv"], ["findings", str(SAMPLES)],
    ["findings", str(SAMPLES / "README.md")], ["findings"], ["findings", str(OFF), "--confidence",
     "2"], ["findings", str(OFF), "--key-on-hours", "nan"], ["findings", str(OFF), "--target-rest",
     "a"], ["settings", str(OFF), "--unit", "counts"], ["settings", str(OFF), "--bits", "99"],
    ["settings", str(OFF), "--template", "no such template"], ["nonsense"],
])
def test_bad_calls_get_one_line_and_status_2(words: list[str], capsys: Out) -> None:
    """Unusable input ends with status 2 and one line that says what to do."""
    try:
        status = main(words)
    except SystemExit as left:
        status = int(left.code or 0)
    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    assert len(err.strip().splitlines()) == 1
    assert "Traceback" not in err
