"""How a pedal was read is not what became of it, and levels are told in volts.

The recordings are samples; the one read twice from one lead is made of the healthy one here.
"""

import json
import random
import re
import shutil

import pytest
from places import ROOT

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"


@pytest.fixture
def job(tmp_path, monkeypatch):
    """A pedal off at rest, and the repaired one with both inputs clipped to the lead of a."""
    monkeypatch.chdir(tmp_path)
    for name in ("off_at_rest", "one_track", "healthy_pair"):
        shutil.copy(SAMPLES / f"synthetic_{name}.csv", tmp_path / f"{name}.csv")
    noise = random.Random(1)
    lines = []
    for line in (tmp_path / "healthy_pair.csv").read_text().splitlines():
        if line.startswith("# end"):
            continue
        cells = line.split(",")
        if cells[0][:1].isdigit():
            cells[2] = str(int(cells[1]) + noise.choice((-1, 0, 0, 1)))
        lines.append(",".join(cells))
    (tmp_path / "clipped.csv").write_text("\n".join(lines) + "\n")
    return tmp_path


def _said(capsys, *words):
    main(list(words))
    return capsys.readouterr().out


def test_one_lead_on_both_inputs_is_not_a_pedal_that_got_worse(job, capsys):
    out = _said(capsys, "compare", "off_at_rest.csv", "clipped.csv")
    assert out.splitlines()[1].startswith("OPEN: whether anything got worse was not all seen")
    assert "worse  " not in out
    assert "perhaps one wiper read twice" in out
    assert json.loads(_said(capsys, "compare", "off_at_rest.csv", "clipped.csv", "--json")
                      )["got_worse"] is False
    page = job / "page.html"
    _said(capsys, "report", "off_at_rest.csv", "clipped.csv", "--out", str(page))
    assert "Whether anything got worse was not all seen." in page.read_text(encoding="utf-8")
    # A pedal that did get worse is still called so.
    out = _said(capsys, "compare", "healthy_pair.csv", "off_at_rest.csv")
    assert out.splitlines()[1].startswith("SOMETHING GOT WORSE")


def test_what_holds_all_along_has_no_time(job, capsys):
    text = _said(capsys, "findings", "clipped.csv", "--more")
    assert re.search(r"^all along  \[\w+ \w+\] same wiper: ", text, re.M)
    assert "0.00 s  [" not in text
    text = _said(capsys, "findings", "clipped.csv")
    assert text.count("one wiper read twice") == 1
    assert "one wiper read twice, at" not in text


def test_levels_are_volts_and_changes_millivolts(job, capsys):
    """Track b of the one sample rests 150 mV above the other's, by how both are made."""
    brief = _said(capsys, "compare", "healthy_pair.csv", "off_at_rest.csv")
    found = re.search(r"^moved   rest of track b: (0\.\d{4}) V -> (0\.\d{4}) V$", brief, re.M)
    assert found is not None
    assert float(found[2]) - float(found[1]) == pytest.approx(0.15, abs=0.003)
    whole = _said(capsys, "compare", "healthy_pair.csv", "off_at_rest.csv", "--more")
    assert re.search(r"^rest of track b +0\.\d{4} V +0\.\d{4} V +\+1\d\d\.\d mV +\d\.\d mV  moved$",
                     whole, re.M)
    for text in (brief, _said(capsys, "compare", "one_track.csv", "healthy_pair.csv")):
        assert max(map(len, text.splitlines())) <= 80
