"""The AVR board's real image, built and run in a simulator of the chip."""

import re
import subprocess
import time

import numpy as np
import pytest
import serial
from avr_simulator import FIRMWARE, build, simulator
from places import ROOT

from bench.acquisition.wire import Batch, Decoder, command
from bench.acquisition.wire.samples import join

termios = pytest.importorskip("termios", reason="the simulator's port is a POSIX one")

COMMON = command("channels", 4) + command("rate", 1000) + command("frames")


def read(port: serial.Serial, decoder: Decoder, rows: int, seconds: float = 60.0) -> list[Batch]:
    """Read until that many rows have come."""
    batches: list[Batch] = []
    until = time.monotonic() + seconds
    while sum(b.rows for b in batches) < rows:
        assert time.monotonic() < until, f"only {sum(b.rows for b in batches)} rows came"
        batches.append(decoder.feed(port.read(4096)))
    return batches


def drain(port: serial.Serial, seconds: float = 0.3) -> None:
    """Read away what is under way."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        port.read(4096)


def go_fast(port: serial.Serial, decoder: Decoder, baud: int = 500_000) -> None:
    """Bring the board to frames at that speed, and forget all that came before."""
    read(port, decoder, 1)  # a board that is still starting hears nothing
    port.write(COMMON + command("baud", baud))
    drain(port)
    port.baudrate = baud
    drain(port)
    decoder.reset()


def rows_of(batches: list[Batch]) -> Batch:
    """Return one batch of the rows of the last shape."""
    channels = batches[-1].readings.shape[1]
    return join([b for b in batches if b.rows and b.readings.shape[1] == channels])


def test_image_fits_with_room_to_spare():
    _, _, said = build()
    text, data, bss = map(int, re.findall(r"^\s*(\d+)\s+(\d+)\s+(\d+)", said, re.M)[0])
    # ATmega328P data sheet: 32 kB flash (0.5 to 2 kB for a boot loader), 2 kB RAM.
    assert text + data < 8 * 1024
    assert data + bss < 1024
    page = (ROOT / "docs" / "boards.md").read_text(encoding="utf-8")
    stated = re.search(r"uses (\d+) bytes of flash .* and (\d+) bytes of RAM", page)
    flash, ram = map(int, stated.groups())
    # Another compiler may need a little more or less.
    assert text + data == pytest.approx(flash, rel=0.1)
    assert data + bss == pytest.approx(ram, rel=0.1)


def test_after_reset_the_board_speaks_text_and_says_what_it_is():
    with simulator() as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        board.say("set 0 2500")
        board.say("set 1 1000")
        decoder = Decoder()
        batch = rows_of(read(port, decoder, 250))
        hello = decoder.hello
        assert decoder.format == "text"
        assert decoder.bad == 0
        assert (hello.full_scale, hello.reference_volts) == (1024, 5.0)
        assert hello.columns == ("a", "b")
        assert hello.roles == ("track", "track")
        assert hello.rate_hz == 200.0
        assert np.allclose(np.diff(batch.time_s), 0.005)
        # ATmega328P data sheet: ideally V / 5 V * 1024, transitions at half steps.
        assert np.all(np.abs(batch.readings[-100:] - (512, 204.8)) <= 1)
        assert decoder.board_says["overruns"] == "0"
        # 1.1 V reference and 5 V supply; simavr's own is exact, a real one +-10 %.
        assert int(decoder.board_says["supply_mv"]) == pytest.approx(5000, abs=25)


@pytest.mark.parametrize("baud", [500_000, pytest.param(1_000_000, marks=pytest.mark.long)])
def test_no_tick_is_missing_at_1_kHz_times_4_channels(baud):
    with simulator(speed=4) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        for channel, millivolts in enumerate((500, 1000, 5000, 3000)):
            board.say(f"set {channel} {millivolts}")
        decoder = Decoder()
        go_fast(port, decoder, baud)
        batch = rows_of(read(port, decoder, 4000))
        assert batch.lost_before.sum() == 0
        assert decoder.bad == 0
        assert np.all(np.round(np.diff(batch.time_s) * 1e6) == 1000)
        assert np.all(np.abs(batch.readings - (102.4, 204.8, 1023, 614.4)) <= 1)
        assert decoder.board_says["overruns"] == "0"
        assert decoder.hello.columns == ("a", "b", "supply", "key")
        assert board.status()["baud"] == baud


def test_noise_at_the_pin_is_the_noise_in_the_readings():
    with simulator(speed=4, seed=3) as board, \
            serial.Serial(board.port, 115200, timeout=0.05) as port:
        board.say("set 0 2500")
        board.say("noise 0 15")
        decoder = Decoder()
        go_fast(port, decoder)
        rows = rows_of(read(port, decoder, 3000)).readings[:, 0]
        step = 5000 / 1024
        # Noise and ideal quantisation noise, LSB/sqrt(12) (IEEE Std 1241), add in power.
        assert np.std(rows) == pytest.approx(np.hypot(15 / step, 12**-0.5), rel=0.05)
        assert np.mean(rows) == pytest.approx(2500 / step, abs=0.15)
        port.write(command("oversample", 16) + command("rate", 100))
        drain(port)
        decoder.reset()
        fine = rows_of(read(port, decoder, 300)).readings[:, 0]
        assert decoder.hello.full_scale == 4096
        assert decoder.hello.rate_hz == pytest.approx(100, rel=0.01)
        assert np.std(fine) / 4 == pytest.approx(np.std(rows) / 4, rel=0.15)  # sqrt(16)


def test_a_rate_that_does_not_fit_the_line_is_lowered_and_said():
    with simulator(speed=4) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        decoder = Decoder()
        read(port, decoder, 1)
        port.write(command("channels", 4) + command("rate", 5000))
        batches = read(port, decoder, 1500)
        # 10 bits per character: 11520 characters per second, 31 per line of text at most.
        assert 300 < decoder.hello.rate_hz < 11520 / 31
        batch = rows_of(batches)
        assert batch.lost_before[1:].sum() == 0
        assert decoder.board_says["overruns"] == "0"


def test_missed_ticks_are_counted_by_the_board_and_seen_by_the_host():
    with simulator(speed=2) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        decoder = Decoder()
        go_fast(port, decoder)
        read(port, decoder, 500)
        lost = 0
        port.write(b"?\n" * 60)  # 60 hellos take longer than its queue of 16 rows lasts
        for batch in read(port, decoder, 3000):
            lost += int(batch.lost_before.sum())
        assert lost > 20
        assert decoder.bad == 0
        assert int(decoder.board_says["overruns"]) == lost


def test_stop_start_and_nonsense():
    with simulator(speed=2) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        decoder = Decoder()
        go_fast(port, decoder)
        port.write(b"stop\n")
        drain(port)
        before = decoder.feed(b"").rows
        data = port.read(200)
        assert decoder.feed(data).rows == before == 0
        port.write(b"dance\nrate\nrate 99999999999\nchannels 7\noversample 3\n\xff\n")
        drain(port)  # it listens to 128 characters between two answers
        port.write(b"baud 115300000\nbaud 700000\n")
        port.write(b"a line that is much longer than any command there is\n")
        port.write(b"start\n")
        batch = rows_of(read(port, decoder, 1000))
        assert decoder.hello.rate_hz == 1000.0
        assert decoder.hello.full_scale == 1024
        assert batch.readings.shape[1] == 4
        assert batch.lost_before.sum() == 0


def test_damaged_bytes_cost_their_frames_and_nothing_else():
    with simulator(speed=4, seed=9) as board, \
            serial.Serial(board.port, 115200, timeout=0.05) as port:
        for channel, millivolts in enumerate((500, 1000, 5000, 3000)):
            board.say(f"set {channel} {millivolts}")
        decoder = Decoder()
        go_fast(port, decoder)
        board.say("corrupt 2000")
        batch = rows_of(read(port, decoder, 4000))
        damaged = board.status()["damaged"]
        assert damaged > 15
        assert np.all(np.abs(batch.readings - (102.4, 204.8, 1023, 614.4)) <= 1)
        lost = batch.lost_before.sum()
        assert 0 < lost <= damaged
        span = batch.time_s[-1] - batch.time_s[0]
        assert batch.rows + lost == pytest.approx(span * 1000 + 1, abs=0.01)


def test_a_wrong_baud_rate_is_said_in_plain_words():
    with simulator(speed=4) as board, serial.Serial(board.port, 57600, timeout=0.05) as port:
        decoder = Decoder()
        problems: list[str] = []
        until = time.monotonic() + 10
        while not problems and time.monotonic() < until:
            problems.extend(decoder.feed(port.read(4096)).problems)
        assert decoder.good == 0
        assert "wrong --baud" in problems[0]


def test_a_pulled_cable_is_noticed_and_a_replugged_board_goes_on():
    with simulator(speed=2) as board:
        decoder = Decoder()
        with serial.Serial(board.port, 115200, timeout=0.05) as port:
            read(port, decoder, 100)
            board.say("unplug")
            board.expect("unplugged")
            # pyserial says SerialException, plain calls OSError or termios.error.
            with pytest.raises((OSError, termios.error)):
                drain(port, 10)
        board.say("plug")
        board.port = board.expect("port ")
        decoder.reset()
        with serial.Serial(board.port, 115200, timeout=0.05) as port:
            batch = join(read(port, decoder, 100))
        assert batch.restarts == (0,)
        assert batch.lost_before.sum() == 0
        assert np.all(np.diff(batch.time_s) > 0)


def reset_told(board, port: serial.Serial) -> str:
    """Return what the board's hello says of its reset, soon after a hang."""
    decoder = Decoder()
    read(port, decoder, 50)
    board.say("hang")
    until = time.monotonic() + 20
    while decoder.board_says.get("reset") != "watchdog" and time.monotonic() < until:
        decoder.feed(port.read(4096))
    return decoder.board_says["reset"]


@pytest.mark.parametrize("loader", [False, True])
def test_a_watchdog_reset_is_told_even_where_a_boot_loader_clears_the_cause(loader):
    """MCUSR as the data sheet of the ATmega328P has it; that loaders clear it: common practice."""
    with simulator(speed=4) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        if loader:
            board.say("loader")
        assert reset_told(board, port) == "watchdog"


def test_a_reset_whose_cause_a_boot_loader_cleared_is_told_as_unknown():
    with simulator(speed=4) as board:
        board.say("loader")
        board.say("plug")
        board.port = board.expect("port ")
        with serial.Serial(board.port, 115200, timeout=0.05) as port:
            decoder = Decoder()
            read(port, decoder, 250)  # a hello comes every second
            assert decoder.board_says["reset"] == "unknown"


def test_the_hello_says_how_far_the_inputs_are_apart_in_time():
    """ATmega328P data sheet: 13 cycles of 125 kHz are 104 us a conversion."""
    with simulator(speed=4) as board, serial.Serial(board.port, 115200, timeout=0.05) as port:
        decoder = Decoder()
        read(port, decoder, 250)  # a hello comes every second
        assert 104 <= float(decoder.board_says["channel_us"]) <= 112
        port.write(command("oversample", 16))
        drain(port)
        decoder.reset()
        read(port, decoder, 300)
        assert 16 * 104 <= float(decoder.board_says["channel_us"]) <= 16 * 112


@pytest.mark.parametrize("clock", [8_000_000, 20_000_000])
def test_a_clock_that_the_sketch_is_not_made_for_is_refused_by_the_compiler(clock, tmp_path):
    build()
    made = subprocess.run(["make", "-C", str(FIRMWARE), f"CLOCK={clock}", f"BUILD={tmp_path}"],
                          capture_output=True, text=True, timeout=120)
    assert made.returncode != 0
    assert "16 MHz" in made.stderr
