"""The JSON of findings, key-on logs and comparisons is what its schema says.

JSON Schema draft 2020-12, checked by the jsonschema library.
"""

import json
import sys

import jsonschema
import pytest
from places import ROOT

from bench.command_line import main
from bench.files.calibration_store import check_sum, load

sys.path.insert(0, str(ROOT / "docs"))

from make_schemas import schemas

SAMPLES = ROOT / "sample_sweeps"
SWEEPS = sorted(p for p in SAMPLES.glob("synthetic_*.csv") if "key_on" not in p.name)
LOGS = sorted(SAMPLES.glob("synthetic_key_on*.csv"))
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"


def checked(name, text):
    """Check a document by the schema of that name and return it."""
    schema = json.loads((ROOT / "docs" / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    made = json.loads(text)
    jsonschema.validate(made, schema)
    return made


def test_the_schemas_are_up_to_date():
    """docs/*.schema.json are what `python docs/make_schemas.py` writes."""
    for name, text in schemas().items():
        assert (ROOT / "docs" / name).read_text(encoding="utf-8") == text, name


@pytest.mark.parametrize("path", SWEEPS, ids=lambda p: p.stem.removeprefix("synthetic_"))
def test_findings_keep_to_their_schema(path, capsys):
    """Every sample's findings, the worn and the short ones too."""
    assert main(["findings", str(path), "--json"]) == 0
    made = checked("findings", capsys.readouterr().out)
    assert made["findings"]


@pytest.mark.parametrize("path", SWEEPS[::3], ids=lambda p: p.stem.removeprefix("synthetic_"))
def test_comparisons_keep_to_their_schema(path, capsys):
    """Every third sample against the healthy pair."""
    assert main(["compare", str(HEALTHY), str(path), "--json"]) == 0
    checked("comparison", capsys.readouterr().out)


@pytest.mark.parametrize("path", LOGS, ids=lambda p: p.stem.removeprefix("synthetic_"))
def test_key_on_logs_keep_to_their_schema(path, capsys):
    """Every log, judged by the sweep of its pedal."""
    kind = "opposed" if "opposed" in path.name else "healthy"
    sweep = SAMPLES / f"synthetic_{kind}_pair.csv"
    assert main(["watch", "--from", str(path), "--sweep", str(sweep), "--json"]) == 0
    checked("key_on", capsys.readouterr().out)


def test_a_job_keeps_to_its_schema(tmp_path, capsys):
    """The sample job with details of every proof, and a folder in which nothing was done yet."""
    job = SAMPLES / "job_with_a_loose_plug"
    assert main(["prove", str(job), "--json"]) == 0
    made = checked("proofs", capsys.readouterr().out)
    assert sum(bool(s["details"]) for s in made["steps"]) == 5
    assert main(["prove", str(tmp_path), "--json"]) == 0
    assert checked("proofs", capsys.readouterr().out)["values"] == []
    made["steps"][2]["details"][0]["code"] = "something new"
    with pytest.raises(jsonschema.ValidationError):
        checked("proofs", json.dumps(made))


def test_a_code_that_is_none_breaks_the_schema(capsys):
    """The schema names every code, so a reader may rely on the list."""
    assert main(["findings", str(HEALTHY), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    made["findings"][0]["code"] = "something new"
    with pytest.raises(jsonschema.ValidationError):
        checked("findings", json.dumps(made))


@pytest.mark.parametrize(("header", "settings", "unit"), [
    ("reading", [], "volts"),
    ("hertz", ["--kind", "speed", "--set", "pulses_per_turn=4", "--set", "tyre=185/65R15"],
     "hertz")])
def test_a_calibration_keeps_to_its_schema(tmp_path, capsys, header, settings, unit):
    """A speed's points are called hertz, all others volts; so are the kept file and the table.

    A speed kept by an older version, with `volts` in it, is read as well.
    """
    points = tmp_path / "points.csv"
    points.write_text(f"{header},meter\n" + "".join(
        f"{x},{0.688 * x:.1f}\n" for x in (10, 20, 40, 60, 80, 100)), encoding="utf-8")
    kept = tmp_path / "kept"
    call = ["meter", "--from", str(points), "--meter-spec", "0.5% + 2 digits", "--tolerance", "2",
            "--pin-limit", "200", *settings]
    assert main([*call, "--store", str(kept), "--json"]) == 0
    made = checked("calibration", capsys.readouterr().out)
    assert [p[unit] for p in made["points"]] == [10, 20, 40, 60, 80, 100]
    (file,) = kept.glob("*.json")
    checked("calibration", file.read_text(encoding="utf-8"))
    assert load(file).calibration.points.volts[2] == 40.0
    old = json.loads(file.read_text(encoding="utf-8"))
    for point in old["points"]:
        point["volts"], point["volts_uncertainty"] = point.pop(unit), point.pop(
            f"{unit}_uncertainty")
    old["sha256"] = check_sum(old)
    file.write_text(json.dumps(old), encoding="utf-8")
    assert load(file).calibration.points.volts[2] == 40.0
    table = tmp_path / "table.csv"
    assert main([*call, "--no-store", "--out", str(table)]) == 0
    assert table.read_text(encoding="utf-8").startswith(f"{unit},{unit}_uncertainty,shown,")
