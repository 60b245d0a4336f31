"""No sheet of a hand throttle speaks of a foot, a press or a lift-off.

No outside source: the words are the trade's own.
"""

import html
import re
from dataclasses import replace

import pytest
from in_process import stillpedal
from places import ROOT

from analysis.model.pedal_kind import BY_HAND, USE_KEY
from bench.acquisition.proof_prompts import TASKS, prompts_of
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.wording.face import TERMINAL, WINDOW
from bench.wording.guided import guide_words, usable
from bench.wording.limb import HAND
from bench.wording.proof import cautions, prompt_words

SAMPLES = ROOT / "sample_sweeps"
OF_A_FOOT = re.compile(r"\b(foot|feet|press\w*|lift-offs?)\b", re.IGNORECASE)
# Its pair off, its contact, its return; its noise, a foot's movement and power in the car.
SWEEPS = ("off_at_rest", "slow_return")
LOGS = ("key_on_foot_and_brake", "key_on_one_track_lifts")


@pytest.fixture(scope="module")
def throttle(tmp_path_factory):
    """Return a folder with samples as if they were of a hand throttle."""
    folder = tmp_path_factory.mktemp("throttle")
    for name in (*SWEEPS, *LOGS, "healthy_pair"):
        made = read_recording(SAMPLES / f"synthetic_{name}.csv")
        # The samples' own titles speak of feet.
        write_recording(folder / f"{name}.csv", replace(
            made, title="a throttle", extra={**made.extra, USE_KEY: BY_HAND}))
    return folder


def foot_words(text):
    """Return the lines that speak of a foot; names of marks and columns are no words."""
    return [line for line in text.splitlines() if OF_A_FOOT.search(line)]


def said(*words):
    done = stillpedal(*words)
    assert done.stdout, done.stderr
    return done.stdout + done.stderr


@pytest.mark.parametrize("name", SWEEPS)
def test_no_sheet_of_its_sweep_speaks_of_a_foot(throttle, name):
    path = str(throttle / f"{name}.csv")
    for words in (("findings", path), ("settings", path), ("findings", path, "--more")):
        text = said(*words)
        assert foot_words(text) == []
    assert "9 openings seen" in text
    assert "hand throttle" in text


@pytest.mark.parametrize("name", LOGS)
def test_no_sheet_of_its_log_speaks_of_a_foot(throttle, name):
    path, sweep = str(throttle / f"{name}.csv"), str(throttle / "healthy_pair.csv")
    for words in (("watch", "--from", path, "--sweep", sweep),
                  ("watch", "--from", path, "--sweep", sweep, "--more")):
        assert foot_words(said(*words)) == []


def test_neither_a_comparison_nor_a_report_does(throttle, tmp_path):
    before, after = (str(throttle / f"{n}.csv") for n in ("off_at_rest", "healthy_pair"))
    assert foot_words(said("compare", before, after, "--more")) == []
    out = tmp_path / "page.html"
    assert stillpedal("report", after, before, "--out", str(out)).returncode == 0
    page = re.sub(r"<(style|script)\b.*?</\1>", "", out.read_text("utf-8"), flags=re.DOTALL)
    assert foot_words(html.unescape(re.sub(r"<[^>]+>", "\n", page))) == []


@pytest.mark.parametrize(("use", "comes", "stops"), [
    ("brake", "BRAKING WOULD HAVE COME with the foot off", "dragging"),
    ("regeneration", "BRAKING WOULD HAVE COME with the foot off", "unasked braking")])
def test_what_a_brake_asks_for_is_braking(tmp_path, use, comes, stops):
    """A brake's or a regeneration potentiometer asks for no power, and no car creeps by it."""
    for name in ("healthy_pair", "key_on_one_track_lifts"):
        made = read_recording(SAMPLES / f"synthetic_{name}.csv")
        write_recording(tmp_path / f"{name}.csv",
                        replace(made, extra={**made.extra, USE_KEY: use}))
    sweep = str(tmp_path / "healthy_pair.csv")
    log = said("watch", "--from", str(tmp_path / "key_on_one_track_lifts.csv"), "--sweep", sweep)
    assert comes in log
    assert "POWER" not in log
    costly = said("findings", sweep, "--more", "--allowed-lost-travel", "0.5")
    assert f"a dead band that stops {stops} costs" in " ".join(costly.split())


def test_no_prompt_of_a_proof_and_no_caution_does():
    asked = [prompt_words(p.code, p.leads or ("a",), p.place, p.ohms, face, HAND)
             for task in TASKS for p in prompts_of(task, ("a", "b")) for face in (TERMINAL, WINDOW)]
    warned = [text for task in TASKS for text in cautions(task, HAND)]
    assert len(asked) > 50
    assert len(warned) >= len(TASKS)
    # A button of the window is pressed whatever works the pedal.
    assert foot_words("\n".join([*asked, *warned]).replace("Press It runs", "")) == []
    assert any("hand" in text.lower() for text in asked)


def test_no_word_while_it_is_swept_does():
    told = [guide_words(code, {USE_KEY: BY_HAND, "short": 2, "more": 3, "torn": 0}, face)
            for code in ("press unseen", "press still unseen", "not back", "more presses")
            for face in (TERMINAL, WINDOW)]
    told += [usable((5, 2), (8, 4), of=HAND)]
    assert foot_words("\n".join(told)) == []
