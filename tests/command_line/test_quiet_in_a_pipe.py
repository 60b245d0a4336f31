"""Every answer fits one screen and names what is next; into a pipe go no bar and no control codes.

Colour is used nowhere, so NO_COLOR (no-color.org) has nothing to switch off.
"""

import os
import re
import shlex
import shutil
import subprocess
import sys

import pytest
from places import ROOT

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"
SWEEP, OFF, LOG = "healthy_pair.csv", "off_at_rest.csv", "key_on_quiet_car.csv"
CALLS = (
    ["findings", OFF], ["findings", OFF, "--more"], ["settings", OFF], ["settings", OFF, "--more"],
    ["compare", SWEEP, OFF], ["watch", "--from", LOG, "--sweep", SWEEP], ["export", SWEEP],
    ["trend", ".", "--processes", "1"], ["import", "scope.csv", "--preview"],
    ["import", "scope.csv"], [
        "sweep", "--board", "simulated", "--fast", "--presses", "1", "--quick", "0", "--out",
        "made.csv"])


@pytest.fixture
def job(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in (SWEEP, OFF, LOG):
        shutil.copy(SAMPLES / f"synthetic_{name}", tmp_path / name)
    rows = [line for line in (tmp_path / SWEEP).read_text().splitlines() if line[:1].isdigit()]
    volts = ["time (s),a (V),b (V)"]
    for row in rows[:3000]:
        time, a, b = row.split(",")[:3]
        volts.append(f"{time},{int(a) * 5 / 4096:.4f},{int(b) * 5 / 4096:.4f}")
    above = [f"setting {n}: 1" for n in range(30)]
    (tmp_path / "scope.csv").write_text("\n".join([*above, *volts]) + "\n")
    return tmp_path


def _quiet(text: bytes) -> bool:
    """Return whether a text has neither a control sequence nor a bar."""
    # ECMA-48: every control sequence opens with ESC; a bar goes back by CR or BS.
    return not (re.search(rb"[\x1b\x08\x9b]|\r(?!\n)", text)
                or re.search(rb"\[[#.]{5,}\]|\d+ of \d+ done|#{5,}", text))


@pytest.mark.parametrize("words", CALLS, ids=" ".join)
def test_no_verb_sends_an_escape_code_or_a_bar_to_no_screen(words, job, capsys, monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert main(words) == 0
    said = capsys.readouterr()
    assert _quiet(said.out.encode())
    assert _quiet(said.err.encode())


@pytest.mark.parametrize("words", [CALLS[0], CALLS[-1]], ids=" ".join)
def test_no_escape_code_and_no_bar_goes_into_a_pipe(words, job):
    """A real pipe behind a process of its own: a verb that reads, and one that records."""
    place = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", "FORCE_COLOR": "1",
             "XDG_CONFIG_HOME": str(job), "HOME": str(job)}
    done = subprocess.run([sys.executable, "-m", "bench", *words], cwd=job, env=place,
                          capture_output=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert _quiet(done.stdout)
    assert _quiet(done.stderr)


class _Screen:
    """Standard output that says it is a screen."""

    def __init__(self, stream):
        self._stream = stream

    def __getattr__(self, name):
        return getattr(self._stream, name)

    def isatty(self):
        return True


@pytest.mark.parametrize("words", [["trend", ".", "--processes", "1"], ["export", SWEEP],
                                   ["import", "scope.csv", "--preview"], ["import", "scope.csv"]],
                         ids=" ".join)
def test_the_answer_fits_a_screen_and_its_next_command_runs(words, job, capsys, monkeypatch):
    """24 lines of 80 signs: the terminal of old that everything still opens with."""
    monkeypatch.setattr(sys, "stdout", _Screen(sys.stdout))
    assert main(words) == 0
    said = capsys.readouterr()
    lines = (said.out + said.err).splitlines()
    assert sum(-(-max(len(line), 1) // 80) for line in lines) <= 24
    following = [line.removeprefix("next: ") for line in lines if line.startswith("next: ")]
    assert len(following) == 1
    program, *rest = shlex.split(following[0])
    assert program == "stillpedal"
    assert rest != words
    assert main(rest) == 0


def test_the_trend_of_many_recordings_shows_the_newest(job, capsys, monkeypatch):
    for number in range(20):
        text = (job / OFF).read_text().split("# end")[0]
        started = f'started = "2026-01-{number + 1:02d}T09:00:00+00:00"'
        text = re.sub(r'started = "[^"]*"', started, text)
        (job / f"old{number}.csv").write_text("".join(text.splitlines(keepends=True)[:2600]))
    monkeypatch.setattr(sys, "stdout", _Screen(sys.stdout))
    assert main(["trend", ".", "--processes", "1"]) == 0
    out = capsys.readouterr().out
    assert len(out.splitlines()) <= 24
    assert max(map(len, out.splitlines())) <= 80
    assert "old0.csv" not in out
    assert "earlier ones are not shown" in out
    assert f"next: stillpedal compare {SWEEP} {OFF}" in out
    assert re.search(r"^2026-11-25  healthy_pair\.csv +sound +0 +0\.751 V +0\.761 V$", out, re.M)
    assert f"not used: 2 files, such as {LOG}; the table says why" in out
