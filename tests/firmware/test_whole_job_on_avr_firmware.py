"""The main job through the real firmware: guided sweep -> recording -> findings, by command line.

The image built from bench/firmware/avr runs in a chip simulator; pyserial opens its port; a
simulated pedal of known truth drives its inputs.
"""

import json
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
from avr_simulator import Simulated, build, simulator
from places import ROOT

from analysis.model.recording import Recording
from analysis.simulation import Converter, Motion, SimulatedSweep, pedal_named, simulate_sweep
from bench.files.recording_file import read_recording

PLAN = {"cycles": 2, "quick": 1}
# Brisker than usual: a second in the chip takes half a second of this machine's work.
PACE = {"press_s": 1.0, "hold_s": 0.7, "release_s": 1.0, "rest_s": 1.0}
# A person who does about what the guided sweep asks for.
MOTION = Motion(**PLAN, **PACE, quick_press_s=1.2, quick_hold_s=1.0)
RATE_HZ = 250
BOARD = ["--rate", str(RATE_HZ), "--channels", "3", "--frames", "--line-baud", "500000",
         "--scale", "supply=2"]
SPEED = 4
STEP_VOLTS = 5.0 / 1024


def pedal_file(name: str, path: Path) -> SimulatedSweep:
    """Write the millivolts at the pins that this pedal gives, and return its truth."""
    # 20 bits and no noise of its own: the converter under test is the board's.
    sweep = simulate_sweep(pedal_named(name), 1000.0, seed=7, motion=MOTION,
                           converter=Converter(bits=20, noise_steps=0.0))
    recording = sweep.recording
    pins = [c.readings * c.pin_volts_per_reading * 1000 for c in recording.channels]
    table = np.column_stack([recording.time_s, *pins])
    # After the sweep the pedal stays where it is, however late the recording ends.
    np.savetxt(path, np.vstack([table, table[-1] + [60, 0, 0, 0]]), fmt="%.4f", delimiter=",")
    return sweep


def stillpedal(*words: str) -> subprocess.CompletedProcess[str]:
    """Run a verb as a user does."""
    return subprocess.run([sys.executable, "-m", "bench", *words], capture_output=True, text=True,
                          timeout=120)


def sweep_through(board: Simulated, voltages: Path, out: Path, during=None,
                  extra: tuple[str, ...] = ()) -> tuple[int, str]:
    """Run the guided sweep on the board's port; the pedal moves once it records."""
    # Plugged in and at rest before anybody looks, as on a bench.
    at_rest = voltages.read_text().split("\n", 1)[0].split(",")[1:]
    for k, millivolts in enumerate(at_rest):
        board.say(f"set {k} {millivolts}")
    process = subprocess.Popen(
        [sys.executable, "-m", "bench", "sweep", "--board", board.port, "--out", str(out),
         "--yes", *(word for name, value in (PLAN | PACE).items()
                    for word in (f"--{name.replace('_', '-')}", str(value))), *BOARD, *extra],
        stderr=subprocess.PIPE, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True)
    said: list[str] = []
    guard = threading.Timer(150, process.kill)
    guard.start()
    try:
        assert process.stderr is not None
        for line in process.stderr:
            said.append(line)
            if line.startswith("recording "):
                # Not before: while the program loads the chip's work is for nothing.
                board.say(f"speed {SPEED}")
                board.say(f"play {voltages}")
            if during is not None:
                during(line)
        process.communicate()
    finally:
        guard.cancel()
        process.kill()
        process.wait()
    return process.returncode, "".join(said)


def recorded(path: Path) -> Recording:
    recording = read_recording(path)
    assert recording.complete
    return recording


@pytest.mark.parametrize(("name", "relation"), [
    ("opposed", "opposed slopes"),
    # What the analysis makes of these is held by tests/analysis/pedal; the way there is the same.
    pytest.param("off-at-rest", "same slope", marks=pytest.mark.long),
    pytest.param("half-slope", "half slope", marks=pytest.mark.long)])
def test_a_sweep_through_the_real_firmware_finds_the_truth(tmp_path, name, relation):
    truth = pedal_file(name, tmp_path / "volts.csv").truth
    with simulator(speed=0.3) as board:
        status, said = sweep_through(board, tmp_path / "volts.csv", tmp_path / "sweep.csv")
    assert status == 0, said
    recording = recorded(tmp_path / "sweep.csv")
    assert recording.lost_samples == 0
    assert recording.rate_hz == RATE_HZ
    assert np.allclose(np.diff(recording.time_s), 1 / RATE_HZ, atol=2e-6)
    ran = stillpedal("findings", str(tmp_path / "sweep.csv"), "--json")
    assert ran.returncode == 0, ran.stderr
    findings = json.loads(ran.stdout)
    assert findings["pair"]["relation"] == relation
    presses = [s for s in findings["segments"] if s["kind"] == "press"]
    assert len(presses) == PLAN["cycles"] + PLAN["quick"]
    for true in truth.tracks.values():
        track = findings["tracks"][true.column]
        allowed = max(0.5 * STEP_VOLTS, 0.001 * true.span_volts)
        assert track["rest_volts"] == pytest.approx(true.rest_volts, abs=allowed)
        assert track["full_volts"] == pytest.approx(true.full_volts, abs=2 * STEP_VOLTS)
        assert track["direction"] == true.direction
    false = [f for f in findings["faults"] if f["kind"] in ("gap", "dropout", "clipping")]
    assert not false, false


# By hand: tests/analysis/pedal finds lost contact, the next file damages bytes.
@pytest.mark.long
def test_lost_contact_is_found_on_the_right_track_through_damaged_bytes(tmp_path):
    truth = pedal_file("dropouts", tmp_path / "volts.csv").truth
    with simulator(speed=4, seed=3) as board:
        board.say("corrupt 20000")
        status, said = sweep_through(board, tmp_path / "volts.csv", tmp_path / "sweep.csv")
        damaged = board.status()["damaged"]
    assert status == 0, said
    recording = recorded(tmp_path / "sweep.csv")
    assert 0 < recording.lost_samples <= damaged
    findings = json.loads(stillpedal("findings", str(tmp_path / "sweep.csv"), "--json").stdout)
    dropouts = [f for f in findings["faults"] if f["kind"] == "dropout"]
    assert {f["channel"] for f in dropouts} == {"b"}
    assert len(dropouts) == len(truth.dropouts)


# By hand: tests/acquisition pulls the cable of a port that sends the same bytes.
@pytest.mark.long
def test_a_pulled_cable_leaves_a_marked_gap_and_the_sweep_goes_on(tmp_path):
    pedal_file("healthy", tmp_path / "volts.csv")
    with simulator(speed=4) as board:
        link = tmp_path / "board"
        link.symlink_to(board.port)
        board.port = str(link)
        seen = []

        def during(line: str) -> None:
            seen.append(line)
            if "press slowly" in line and sum("press slowly" in s for s in seen) == 2:
                link.unlink()
                board.say("unplug")
                board.expect("unplugged")
            if line.startswith("CABLE"):
                board.say("plug")
                link.symlink_to(board.expect("port "))

        status, said = sweep_through(board, tmp_path / "volts.csv", tmp_path / "sweep.csv", during)
    assert "CABLE: " in said
    assert "is back; the gap is marked" in said
    assert status == 0, said
    recording = recorded(tmp_path / "sweep.csv")
    assert recording.lost_samples > 0
    assert np.all(np.diff(recording.time_s) >= 0)
    # Back at the same rate and shape, although the board had started anew.
    assert np.median(np.diff(recording.time_s[-500:])) == pytest.approx(1 / RATE_HZ, abs=2e-6)


# By hand: test_firmware_avr has the wrong rate, tests/acquisition the words and the deaf board.
@pytest.mark.long
def test_a_wrong_baud_rate_and_a_deaf_board_give_one_helpful_line(tmp_path):
    with simulator(speed=4) as board:
        ran = stillpedal("sweep", "--board", board.port, "--out", str(tmp_path / "s.csv"), "--yes",
                         "--baud", "57600")
        assert ran.returncode == 2
        last = ran.stderr.strip().splitlines()[-1]
        assert "wrong --baud" in last
        assert board.port in last
        assert not (tmp_path / "s.csv").exists()


def test_the_real_board_is_checked_from_the_command_line():
    with simulator() as board:
        for line in ("set 0 500", "noise 0 5", "set 1 2345", "noise 1 10", "set 2 0"):
            board.say(line)
        ran = stillpedal("boards", "--check", board.port, "--seconds", "2", "--json",
                         "--grounded", "supply", "--expect", "a=0.5", "--rate", "1000",
                         "--channels", "3", "--frames", "--line-baud", "500000")
    assert ran.returncode == 0, ran.stderr
    said = json.loads(ran.stdout)
    a, b, supply = said["channels"]
    # 5 and 10 mV rms of noise and ideal quantisation noise (IEEE Std 1241), in steps of 4.88 mV.
    assert a["noise_lsb"] == pytest.approx(np.hypot(5 / 4.883, 12**-0.5), rel=0.1)
    assert b["noise_lsb"] == pytest.approx(np.hypot(10 / 4.883, 12**-0.5), rel=0.1)
    assert abs(a["error_lsb"]) < 0.3
    assert supply["error_lsb"] == 0
    assert (said["lost_samples"], said["refused"], said["overruns"]) == (0, 0, 0)
    assert said["clock"]["rate_hz"] == pytest.approx(1000)
    assert said["supply_volts"] == pytest.approx(5.0, abs=0.03)
    # 18 bytes a row, 1000 rows a second, on 50000 bytes a second. On a busy machine the simulated
    # chip falls behind; its own clock tells by how much.
    pace = 1.0 + 1e-6 * said["clock"]["error_ppm"]["value"]
    assert said["line_percent"] == pytest.approx(36 * pace, abs=2)
    assert not a["codes"]["missing"]


def test_the_ten_lines_of_the_docs_work_as_printed(tmp_path):
    page = (ROOT / "docs" / "wire.md").read_text(encoding="utf-8")
    sketch = page.split("```c\n")[1].split("```")[0]
    assert len([line for line in sketch.splitlines() if not line.startswith("//")]) == 10
    build()
    core = ROOT / "tests/firmware/avr_host" / "beginner_core.h"
    source, image = tmp_path / "sketch.cpp", tmp_path / "sketch.elf"
    source.write_text(f'#include "{core}"\n{sketch}')
    subprocess.run(["avr-g++", "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os", "-std=gnu++11",
                    "-Wall", "-Werror", "-o", str(image), str(source)], check=True, timeout=60)
    with simulator(image=image) as board:
        for line in ("set 0 500", "set 1 1000", "set 2 4000"):
            board.say(line)
        ran = stillpedal("boards", "--check", board.port, "--text", "--seconds", "2", "--json",
                         "--expect", "a=0.5", "--expect", "b=1", "--expect", "supply=4")
    assert ran.returncode == 0, ran.stderr
    said = json.loads(ran.stdout)
    assert [c["column"] for c in said["channels"]] == ["a", "b", "supply"]
    assert all(abs(c["error_lsb"]) <= 1 for c in said["channels"])
    assert (said["lost_samples"], said["refused"]) == (0, 0)
    assert said["clock"]["rate_hz"] == pytest.approx(200, rel=0.01)
