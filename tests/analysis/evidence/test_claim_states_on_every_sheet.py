"""A claim is sound only when all it speaks of was seen; every sheet shows the same state."""

import json
import re
from pathlib import Path

import pytest
from findings_by_hand import SAMPLES

from analysis.evidence.claim import settle, state_of
from analysis.evidence.sweep import (
    CLAIMS,
    CONTACT,
    DEAD_BAND,
    RETURNS,
    SPEAKS_OF,
    subject_of,
    sweep_claims,
    sweep_findings,
    sweep_state,
)
from analysis.model.finding import SWEEP_CODES, Finding
from bench.command_line import main
from bench.files.exports.export_document import sheet_of
from bench.files.exports.findings_json import findings_object
from bench.files.exports.findings_text import findings_text
from bench.services.compare import compare_files
from bench.services.findings import open_findings

SWEEPS = ("healthy_pair", "lost_samples", "one_track", "off_at_rest", "wiper_dropouts",
          "stuck_return")


def state_of_claim(claims, name):
    return next(c for c in claims if c.claim == name)


def test_a_contradiction_outlasts_what_was_not_seen_and_open_is_never_sound():
    assert settle("x").state == "sound"
    assert settle("x", (), ("gap", "gap")) == settle("x", (), ("gap",))
    assert settle("x", (), ("gap",)).state == "open"
    assert settle("x", ("dropout",), ("gap",)).state == "bad"
    assert state_of([settle("x"), settle("y", (), ("gap",))]) == "open"
    assert state_of([settle("x", ("dropout",)), settle("y", (), ("gap",))]) == "bad"


def found(code, gravity, channel=None):
    return Finding(code, gravity, subject_of(code, channel), channel=channel)


def test_lost_readings_leave_contact_open_and_a_dropout_contradicts_it():
    lost = sweep_claims([found("gap", 1)])
    assert state_of_claim(lost, CONTACT).state == "open"
    assert state_of_claim(lost, RETURNS).state == "sound"
    dropped = sweep_claims([found("gap", 1), found("dropout", 3, "a")])
    assert state_of_claim(dropped, CONTACT) == settle(CONTACT, ("dropout",))


def test_a_promise_is_open_for_want_of_returns_and_bad_for_a_pedal_that_stuck():
    few = sweep_claims([found("promise withdrawn", 2, "a")])
    assert state_of_claim(few, DEAD_BAND).state == "open"
    stuck = sweep_claims([found("promise withdrawn", 2, "a"),
                          found("no return", 3)])
    assert state_of_claim(stuck, DEAD_BAND).state == "bad"


def test_a_grave_sentence_that_no_claim_knows_still_makes_the_sweep_bad():
    said = [found("something new", 2)]
    assert sweep_state(sweep_claims(said), said) == "bad"


def test_every_row_of_the_table_names_a_claim_that_exists():
    assert {claim for row in SPEAKS_OF.values() for claim in row} <= set(CLAIMS)


def test_every_sentence_of_a_sweep_has_a_code():
    for path in sorted(SAMPLES.glob("synthetic_*.csv")):
        if "key_on" in path.name:
            continue
        for finding in sweep_findings(open_findings(path).graded):
            assert finding.code in SWEEP_CODES


# One sound, one open, one bad by its pair; the others by hand.
@pytest.mark.parametrize("name", [
    n if n in ("healthy_pair", "lost_samples", "off_at_rest") else
    pytest.param(n, marks=pytest.mark.long) for n in SWEEPS])
def test_every_sheet_of_a_sweep_shows_the_same_state(name, tmp_path):
    path = SAMPLES / f"synthetic_{name}.csv"
    findings = open_findings(path)
    said = findings_object(findings)
    assert said["state"] == findings.state
    line = sheet_of(findings, path).state
    assert re.sub(r"\s+", " ", findings_text(findings)).count(line) == 1
    for form in ("text", "json", "csv", "toml", "c"):
        out = tmp_path / f"sheet.{form}"
        main(["settings", str(path), "--format", form, "--out", str(out)])
        flat = re.sub(r"[\s,]+", " ", out.read_text(encoding="utf-8"))
        assert line.replace(",", "") in flat, form
    strict = main(["findings", str(path), "--strict", "--json"])
    assert strict == (0 if findings.state == "sound" else 1)


# A page with its drawings takes a second.
@pytest.mark.parametrize("name", [
    n if n == "lost_samples" else pytest.param(n, marks=pytest.mark.long) for n in SWEEPS])
def test_a_report_shows_that_state_too(name, tmp_path):
    path, page = SAMPLES / f"synthetic_{name}.csv", tmp_path / "page.html"
    main(["report", str(path), "--out", str(page)])
    line = sheet_of(open_findings(path), path).state
    assert line in re.sub(r"\s+", " ", page.read_text(encoding="utf-8"))


def test_the_json_carries_codes_and_claims_as_the_formats_page_has_them(capsys):
    main(["findings", str(SAMPLES / "synthetic_wiper_dropouts.csv"), "--json"])
    said = json.loads(capsys.readouterr().out)
    dropout = next(f for f in said["findings"] if f["code"] == "dropout")
    assert dropout["gravity"] == 3
    assert (dropout["subject"], dropout["channel"]) == ("track", "b")
    assert {c["state"] for c in said["claims"]} <= {"sound", "bad", "open"}
    assert {"claim": CONTACT, "state": "bad", "because": ["dropout"]} in said["claims"]


def test_no_comparison_calls_unseen_travel_as_good_as_before(capsys):
    before, after = (str(SAMPLES / f"synthetic_{n}.csv") for n in ("healthy_pair", "lost_samples"))
    assert main(["compare", before, after, "--json", "--strict"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert said["later"]["state"] == "open"
    worse = next(c for c in said["claims"] if c["claim"] == "nothing got worse")
    assert worse["state"] == "open"
    same = compare_files(Path(before), Path(before)).comparison
    assert same.after.sound


def test_earlier_settings_are_not_said_to_hold_where_that_cannot_be_told(tmp_path, capsys):
    """A sweep with too few presses promises nothing, so nothing is known of earlier values."""
    whole = (SAMPLES / "synthetic_healthy_pair.csv").read_text("utf-8").splitlines(True)
    short = tmp_path / "short.csv"
    head = next(i for i, line in enumerate(whole) if line.startswith("time_s"))
    short.write_text("".join(whole[: head + 1600]), encoding="utf-8")
    main(["compare", str(SAMPLES / "synthetic_healthy_pair.csv"), str(short), "--json"])
    assert json.loads(capsys.readouterr().out)["old_settings_hold"] is None
