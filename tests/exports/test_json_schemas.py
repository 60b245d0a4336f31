"""The JSON of findings, key-on logs and comparisons is what its schema says.

JSON Schema draft 2020-12, checked by the jsonschema library.
"""

import json
import sys

import jsonschema
import pytest
from places import ROOT

from bench.command_line import main

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
