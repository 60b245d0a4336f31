"""Measure speed as ratios against what a user would write instead, in one run.

    python tests/benchmarks/speed_ratios.py           everything, some minutes
    python tests/benchmarks/speed_ratios.py --quick   small sizes, seconds

Processor time of this process, best of some runs, the rivals in turn; so a busy machine changes the
figures little and the ratios less. The analysis is timed by the clock, as its bar is what a user
waits.
"""

import argparse
import binascii
import io
import platform
import struct
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep
from bench.acquisition.wire import Decoder, Hello, encode_frames, encode_hello
from bench.files.malloc_tuning import keep_freed_memory
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from text_lines import encode_text

MISSED: list[str] = []


def best(job: Callable[[], object], times: int = 3,
         clock: Callable[[], float] = time.process_time) -> float:
    """Return the least seconds of some runs, of the processor unless another clock is given."""
    spent = []
    for _ in range(times):
        begun = clock()
        job()
        spent.append(clock() - begun)
    return min(spent)


def rivals(ours: Callable[[], object], theirs: Callable[[], object],
           times: int = 6) -> tuple[float, float]:
    """Return the least processor seconds of either, run in turn."""
    both = [(best(ours, 1), best(theirs, 1)) for _ in range(times)]
    return min(b[0] for b in both), min(b[1] for b in both)


def say(name: str, measured: float, unit: str, bar: float, at_least: bool) -> None:
    """Print one figure beside its bar."""
    met = measured >= bar if at_least else measured <= bar
    if not met:
        MISSED.append(name)
    print(f"{name:<58}{measured:10.2f} {unit:<9}{'>=' if at_least else '<='} {bar:<6g}"
          f"{'met' if met else 'MISSED'}", flush=True)


def struct_loop(data: bytes) -> int:
    """Decode frames of two 16-bit readings one by one: struct, and the C CRC of binascii."""
    form = struct.Struct("<BBB3sI2H")
    good = at = 0
    while at + 16 <= len(data):
        frame = data[at: at + 16]
        if (frame[0] == 0xA5 and frame[1] ^ frame[2] == 0xFF
                and binascii.crc_hqx(frame[:14], 0xFFFF) == int.from_bytes(frame[14:], "big")):
            form.unpack(frame[:14])
            good += 1
            at += 16
        else:
            at += 1
    return good


def decoder(frames: int) -> None:
    """Compare the decoder with a struct loop and with bare numpy.frombuffer."""
    rng = np.random.default_rng(1)
    hello = encode_hello(Hello("speed", ("a", "b"), 4096, 5.0, 1000.0))
    ticks = np.arange(frames)
    data = encode_frames(0, ticks * 1000 % 2**32, rng.integers(0, 4096, (frames, 2)))
    damaged = bytearray(data)
    for place in rng.integers(0, len(data), frames // 1000):
        damaged[place] ^= 0x55
    torn = bytes(damaged)

    def ours(stream: bytes) -> int:
        whole = Decoder("frames")
        whole.feed(hello)
        whole.feed(stream)
        whole.finish()
        return whole.good

    assert ours(data) == frames == struct_loop(data)
    assert ours(torn) == struct_loop(torn)
    mine, loop = rivals(lambda: ours(data), lambda: struct_loop(data), 4)
    floor = best(lambda: np.frombuffer(data, np.uint8).reshape(-1, 16).copy())
    say("frames against a struct + C-CRC loop", loop / mine, "times", 10, True)
    say("frames, clean", frames / mine / 1e6, "M/s", 10, True)
    mine_torn, loop_torn = rivals(lambda: ours(torn), lambda: struct_loop(torn), 4)
    say("frames, one in 1000 damaged, against the loop", loop_torn / mine_torn, "times", 10, True)
    say("frames, one in 1000 damaged", frames / mine_torn / 1e6, "M/s", 10, True)
    torn_off = b"".join(data[16_000 * k + (k > 0): 16_000 * (k + 1)] for k in range(frames // 1000))
    print(f"{'  (one byte lost in 1000 frames, against the loop)':<58}"
          f"{best(lambda: struct_loop(torn_off)) / best(lambda: ours(torn_off)):10.2f} times")
    print(f"{'  (bare numpy.frombuffer and copy, checks nothing)':<58}"
          f"{frames / floor / 1e6:10.2f} M/s")
    lines = frames // 4
    readings = rng.integers(0, 4096, (lines, 2))
    plain = encode_text(Hello("speed", ("a", "b"), 4096, 5.0, 1000.0), ticks[:lines] * 1000,
                        readings)

    def text() -> int:
        whole = Decoder("text")
        whole.feed(plain)
        whole.finish()
        return whole.good

    assert text() == lines
    print(f"{'  (text lines with a clock and two readings)':<58}"
          f"{lines / best(text) / 1e6:10.2f} M/s")


def long_sweep(rows: int) -> Recording:
    """Return a sweep of about so many rows at 1 kHz: two tracks, supply and a position."""
    cycles = max(3, rows // 9000)
    made = simulate_sweep(pedal_named("healthy"), 1000.0, 12, cycles=cycles, quick=cycles // 2,
                          seed=1).recording
    first = made.channels[0]
    position = Channel("d", "position", first.readings[::-1].copy(), "counts", first.full_scale,
                       first.reference_volts)
    return replace(made, channels=(*made.channels, position))


def files(rows: int) -> None:
    """Compare loading a recording with pandas, pyarrow and numpy."""
    import pandas

    recording = long_sweep(rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        write_recording(path, recording)
        ours, theirs = rivals(lambda: read_recording(path),
                              lambda: pandas.read_csv(path, comment="#"))
        say(f"load {recording.rows} rows: pandas' time over ours", theirs / ours, "times", 1, True)
        body = b"".join(line for line in path.read_bytes().splitlines(True)
                        if not line.startswith(b"#"))
        try:
            from pyarrow import csv

            arrow = best(lambda: csv.read_csv(io.BytesIO(body)))
            print(f"{'  (pyarrow, several threads, time over ours)':<58}{arrow / ours:10.2f} times")
        except ImportError:
            print("  (pyarrow is not installed)")
        numbers = io.BytesIO(body.replace(b",\n", b"\n"))

        def loadtxt() -> None:
            numbers.seek(0)
            np.loadtxt(numbers, delimiter=",", skiprows=1, usecols=(0, 1, 2, 3, 4))

        print(f"{'  (numpy.loadtxt, time over ours)':<58}{best(loadtxt, 1) / ours:10.2f} times")


def analysis(rows: int, longest: int) -> None:
    """Measure the full analysis: seconds, memory over the arrays, growth with length."""
    recording = long_sweep(rows)
    spent = best(lambda: analyse(recording), 5, time.perf_counter)
    say(f"analysis of {recording.rows} rows x 4 channels", spent, "s", 2, False)
    # numpy tells tracemalloc of its arrays. What this process held before does not hide them, as
    # it would in the system's own peak; traced, it is slower, so it is not timed here.
    tracemalloc.start()
    analyse(recording)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    arrays = recording.rows * 8 * (len(recording.channels) + 1)
    say("its peak memory, arrays included, over its arrays", (peak + arrays) / arrays, "times", 6,
        False)
    sizes, seconds = [], []
    length = 10_000
    while length <= longest:
        part = long_sweep(length)
        sizes.append(part.rows)
        seconds.append(best(lambda part=part: analyse(part)))
        length *= 10
    if len(sizes) > 1:
        # The fixed part of a short recording flatters the slope: from 1e5 rows on as well.
        whole = np.polyfit(np.log(sizes), np.log(seconds), 1)[0]
        say(f"growth with length, {sizes[0]} to {sizes[-1]} rows, log-log slope", float(whole), "",
            1.05, False)
        tail = slice(1, None) if len(sizes) > 2 else slice(None)
        slope = np.polyfit(np.log(sizes[tail]), np.log(seconds[tail]), 1)[0]
        say(f"growth with length, {sizes[tail][0]} to {sizes[-1]} rows, log-log slope",
            float(slope), "", 1.05, False)


def main() -> int:
    """Run all comparisons; exit status 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    keep_freed_memory()  # as the command line does
    print(f"Python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}, "
          f"{platform.system()}")
    decoder(100_000 if quick else 2_000_000)
    files(100_000 if quick else 3_600_000)
    analysis(*((100_000, 100_000) if quick else (3_600_000, 10_000_000)))
    return 1 if MISSED else 0


if __name__ == "__main__":
    sys.exit(main())
