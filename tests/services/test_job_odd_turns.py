"""A job that took an odd turn: what is taken in, what counts, and the next command in full."""

import os
import shutil
from dataclasses import replace
from types import SimpleNamespace

import pytest
from places import ROOT
from scripted_board import counting

from analysis.model.errors import AnalysisError
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.loads import Load
from analysis.proof.outcome import Outcome
from bench.errors import BadCall
from bench.files.job_record import add_entry, read_job
from bench.files.job_standing import Proof, Proofs, TypedBack
from bench.files.recording_writer import write_recording
from bench.services.export import export_measurements
from bench.services.feed import state_feed
from bench.services.folder import standing_of
from bench.services.job_files import add_file, bring_in, unlisted_files
from bench.services.job_next import next_command, repair_of
from bench.services.proof import (
    STEPS,
    Asked,
    limits_in,
    power_column,
    proofs_of,
    shorts_of,
    signed_step,
    simulated_car,
    write_page,
)

SAMPLES = ROOT / "sample_sweeps"
JOB = SAMPLES / "job_with_a_loose_plug"
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
LOG = SAMPLES / "synthetic_key_on_quiet_car.csv"


def standing(folder, at, state, **more):
    """Return a job whose steps before `at` are proved; `more`: of that step."""
    proof = Proof(at, state, **more)
    return Proofs(folder, tuple(proof if s == at else Proof(s, "proved") for s in STEPS))


LEVEL = TrackLimits(0.5, 4.0, 0.7, 0.2, 4.6)


@pytest.mark.parametrize(("at", "state", "following"), [
    ("signed", "proved", "stillpedal prove {0} --more"),
    ("signed", "to do", "stillpedal prove {0} --page {0}/proof.pdf --by NAME"),
    ("entered", "to do", "stillpedal prove {0}"),
    ("shake", "failed", "stillpedal prove {0} --do shake --board PORT"),
    ("sweep", "to do", "stillpedal sweep --board PORT --out {0}/sweep.csv"),
])
def test_the_command_after_each_step(at, state, following, tmp_path):
    """It can be typed as it stands."""
    assert next_command(standing(tmp_path, at, state)) == following.format(tmp_path)


def test_the_values_to_type_back_are_named_by_track(tmp_path):
    """Both values of both tracks, as `--shown` takes them."""
    job = replace(standing(tmp_path, "entered", "to do"), limits=Limits({"a": LEVEL, "b": LEVEL}))
    assert next_command(job).split()[3:] == [
        word for track in "ab" for value in ("start_of_travel", "full_travel")
        for word in ("--shown", f"{track}.{value}=VOLTS")]


@pytest.mark.parametrize(("step", "outcome", "said"), [
    ("loads", Outcome("loads", "failed", loads=(Load("lamps", "holds", 2), Load(
        "fan", "passes", 2))), "fan: give the pedal's supply and ground leads of their own"),
    ("drive", Outcome("drive", "failed", drive=SimpleNamespace()), "wheels off the ground again"),
    ("drive", Outcome("drive", "failed"), ""),
    ("drive", None, ""),
    ("wires", Outcome("wires", "failed", ("open a",), wires=SimpleNamespace(steps=[
        SimpleNamespace(step=SimpleNamespace(mark=f"open {x}", kind="open", leads=(x,)))
        for x in "ab"])), "power must stop"),
])
def test_what_failed_is_mended_before_it_is_done_again(step, outcome, said, tmp_path):
    """Only what failed is named; the rest of it holds."""
    repair = repair_of(standing(tmp_path, step, "failed", outcome=outcome))
    assert said in repair
    assert bool(repair) is bool(said)
    assert "lamps" not in repair
    assert repair_of(standing(tmp_path, step, "open", outcome=outcome)) == ""


def test_a_value_on_its_unsafe_side_is_entered_again(tmp_path):
    """With the value that was issued; the others are right already."""
    job = replace(standing(tmp_path, "entered", "failed"), values=(
        TypedBack("a.start_of_travel", 0.912, 0.85, "unsafe side"),
        TypedBack("b.start_of_travel", 0.5, 0.5, "as issued")))
    assert repair_of(job) == "enter in the controller a.start_of_travel 0.912 V"


def test_a_recording_of_no_proof_is_not_taken_in(tmp_path):
    """And the copy of it that was made is not kept."""
    away = tmp_path / "away"
    away.mkdir()
    write_recording(away / "m.csv", replace(counting(50), purpose="meter"))
    job = tmp_path / "job"
    job.mkdir()
    with pytest.raises(BadCall, match="is a meter without a step of any proof"):
        bring_in(job, away / "m.csv")
    assert not list(job.glob("*.csv"))


def test_a_recording_in_the_folder_is_not_copied_again(tmp_path):
    """It is noted where it lies; an input that it does not have shows no power."""
    mine = shutil.copy(LOG, tmp_path / "key-on.csv")
    with pytest.raises(AnalysisError, match="motor"):
        add_file(tmp_path, mine, "motor")
    assert read_job(tmp_path).entries == ()
    assert bring_in(tmp_path, mine) == mine
    assert [e.what for e in read_job(tmp_path).entries] == ["key-on"]
    (tmp_path / "notes.csv").write_text("a,b\n1,2\n")
    assert unlisted_files(read_job(tmp_path)) == ()


def test_a_log_alone_is_read_without_a_sweep(tmp_path):
    """A table that is no recording, and one that is damaged, are passed over."""
    shutil.copy(LOG, tmp_path / "key-on.csv")
    (tmp_path / "notes.csv").write_text("a,b\n1,2\n")
    assert standing_of(tmp_path).next == "stillpedal watch --from key-on.csv"
    (tmp_path / "a.csv").write_bytes(HEALTHY.read_bytes()[:400])
    os.utime(tmp_path / "a.csv", (1, 1))
    assert "--sweep" not in standing_of(tmp_path).next


def test_without_a_sweep_nothing_typed_back_counts(tmp_path):
    """There is nothing to hold it against."""
    add_entry(tmp_path, "entered", None, {"volts": {"a.start_of_travel": 1.0}})
    found = proofs_of(tmp_path)
    assert (found.of("entered").state, found.of("entered").because) == ("open", ("no sweep",))
    assert shorts_of(found) == ()


def test_a_sweep_with_its_log_gone_and_values_unreadable(tmp_path):
    """The record goes by its files: a log that is gone is open, so are values that are none."""
    mine = shutil.copy(HEALTHY, tmp_path / "sweep.csv")
    log = shutil.copy(LOG, tmp_path / "key-on.csv")
    add_file(tmp_path, mine)
    add_file(tmp_path, log)
    log.unlink()
    add_entry(tmp_path, "entered", None, {"volts": 3})
    found = proofs_of(tmp_path)
    assert (found.of("key-on").state, found.of("key-on").because) == ("open", ("file gone",))
    assert (found.of("entered").state, found.of("entered").because) == ("open", ("unreadable",))
    assert set(limits_in(tmp_path).limits.tracks) == {"a", "b"}


def test_a_signed_page_without_its_states_proves_nothing(tmp_path):
    """Nobody knows what it spoke of."""
    (tmp_path / "proof.html").write_text("a page")
    add_entry(tmp_path, "signed", tmp_path / "proof.html", {"by": "me"})
    found = signed_step(read_job(tmp_path), [Proof(s, "proved") for s in STEPS[:-1]])
    assert (found.state, found.because) == ("open", ("unreadable",))


def test_power_is_shown_by_the_input_that_is_named():
    """Of the others the first that is a current or a voltage."""
    channels = counting(5).channels
    shown = (*channels, replace(channels[0], column="motor", role="current"))
    assert power_column(channels) is None
    assert power_column(shown) == "motor"
    assert power_column(shown, "b") == "b"
    assert power_column(shown, "c") is None


def test_the_simulated_car_has_two_tracks_of_these_names():
    """Other names are told: its levels would be those of another pedal."""
    with pytest.raises(BadCall, match="has the tracks a and b; this job's sweep has left, right"):
        simulated_car(Asked("wires", ("left", "right")),
                      Limits({"left": LEVEL, "right": LEVEL}), None)


def test_a_page_is_signed_by_somebody_and_kept_with_the_job(tmp_path):
    """Nothing is written or noted otherwise."""
    job = standing(tmp_path / "job", "signed", "to do")
    with pytest.raises(BadCall, match="add --by NAME"):
        write_page(job, tmp_path / "job" / "proof.html", "  ", "")
    with pytest.raises(BadCall, match="does not lie in the job's folder"):
        write_page(job, tmp_path / "proof.html", "me", "")
    assert not list(tmp_path.iterdir())


def test_the_feed_is_one_of_the_known_words(tmp_path):
    """A copy says it; the recording stays as it is."""
    with pytest.raises(BadCall, match=r"fed by 'the sun'; use .* or "):
        state_feed(HEALTHY, "the sun")


def test_measurements_are_written_by_the_ending_of_the_file(tmp_path):
    """An ending that is none of theirs is named."""
    write_recording(tmp_path / "r.csv", counting(20))
    out = tmp_path / "out.CSV"
    assert export_measurements(tmp_path / "r.csv", out=out).path == out
    assert out.read_text(encoding="utf-8").count("\n") > 20
    assert export_measurements(tmp_path / "r.csv", "csv").path.name == "r-measurements.csv"
    with pytest.raises(BadCall, match=r"no measurements format '\.tape'"):
        export_measurements(tmp_path / "r.csv", out=tmp_path / "out.tape")
