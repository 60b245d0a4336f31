"""Write one truth in 150 and more ways that loggers have; count right, asked and misread ones.

    python tests/studies/import_dialect_rates.py

Every dialect is written here (most through pandas' own writer) from two tracks of known volts and
known times, and imported without any option. It is right when times and volts come back, asked
when one line says what is missing, misread when anything else comes back. Exit status 1 when one
is misread, when a question has more than one line, or when fewer than 120 were written.
"""

import io
import itertools
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from bench.errors import BenchError
from bench.files.imports import ImportOptions, import_log

N = 700
T = np.arange(N) * 0.005
A = np.round(0.74 + 3.4 * np.clip(np.sin(T * 1.1), 0, 1) + 0.001 * (np.arange(N) % 3), 3)
B = np.round(0.40 + 0.5 * (A - 0.74) + 0.001 * (np.arange(N) % 2), 3)
SEPARATORS = (",", ";", "\t", "|")
UNITS = ("V, 3 decimals", "V, general", "mV, whole", "mV, thousands", "mV, 1 decimal",
         "V, exponent")
TIMES = ("s", "ms", "ms with thousands", "clock", "date and time", "us", "epoch ms")


def grouped(value, mark, decimal=".", places=0):
    """Return a number with its thousands set off."""
    return f"{value:,.{places}f}".replace(",", "_").replace(".", decimal).replace("_", mark)


def cells(values, unit, decimal):
    """Return a column of readings as text, and its heading."""
    mark = "." if decimal == "," else ","
    if unit == "mV, whole":
        return [f"{v * 1e3:.0f}" for v in values], "mV"
    if unit == "mV, thousands":
        return [grouped(v * 1e3, mark, decimal) for v in values], "mV"
    if unit == "mV, 1 decimal":
        return [f"{v * 1e3:.1f}".replace(".", decimal) for v in values], "mV"
    form = {"V, 3 decimals": ".3f", "V, general": "g", "V, exponent": ".4E"}[unit]
    return [f"{v:{form}}".replace(".", decimal) for v in values], "V"


def times(kind, decimal):
    """Return the times as text, and their heading."""
    mark = "." if decimal == "," else ","
    start = pd.Timestamp("2026-03-14 09:26:53")
    when = start + pd.to_timedelta(np.round(T * 1000), unit="ms")
    return {
        "s": ([f"{t:.3f}".replace(".", decimal) for t in T], "Time (s)"),
        "ms": ([f"{t * 1e3:.0f}" for t in T], "Time (ms)"),
        "ms with thousands": ([grouped(t * 1e3, mark, decimal) for t in T], "Time (ms)"),
        "clock": ([w.strftime("%H:%M:%S.%f")[:-3] for w in when], "Time"),
        "date and time": ([w.isoformat(sep=" ", timespec="milliseconds") for w in when], "Date"),
        "us": ([f"{t * 1e6:.0f}" for t in T], "time_us"),
        "epoch ms": ([f"{start.value // 10**6 + round(t * 1e3)}" for t in T], "timestamp"),
    }[kind]


def frames():
    """Yield (name, text) of the dialects that are plain tables."""
    for k, (sep, unit, time) in enumerate(itertools.product(SEPARATORS, UNITS, TIMES)):
        decimal = "." if sep == "," or k % 3 == 0 else ","
        (t, head), (a, u), (b, _) = times(time, decimal), cells(A, unit, decimal), \
            cells(B, unit, decimal)
        style = ("a ({})", "a [{}]", "a_{}", "a {}")[k % 4]
        frame = pd.DataFrame({head: t, style.format(u): a, "b" + style[1:].format(u): b})
        out = io.StringIO()
        frame.to_csv(out, sep=sep, index=False, lineterminator=("\n", "\r\n")[k % 2])
        yield f"{sep!r} {unit} {time} decimal {decimal}", out.getvalue()


def odd_ones():
    """Yield (name, text) of dialects that are more than a plain table."""
    wide = pd.DataFrame({"time_s": T, "a": A, "b": B})
    for value, channel, unit in itertools.product(("value", "reading"), ("channel", "signal"),
                                                  (False, True)):
        long = wide.melt("time_s", var_name=channel, value_name=value)
        if unit:
            long["unit"] = "V"
        yield f"long by channel, {value} {channel} {unit}", long.to_csv(index=False)
        yield f"long by time, {value} {channel} {unit}", long.sort_values(
            "time_s", kind="stable").to_csv(index=False)
    percent = pd.DataFrame({"time_s": T, "a_%": 20 * A, "b_%": 20 * B})
    yield "per cent", percent.to_csv(index=False)
    yield "per cent in brackets", percent.set_axis(["t (s)", "a (%)", "b (%)"],
                                                   axis=1).to_csv(index=False)
    yield "degrees", percent.set_axis(["t (s)", "a (deg)", "b (deg)"], axis=1).to_csv(index=False)
    yield "names that say nothing", wide.set_axis(["time_s", "left", "right"],
                                                  axis=1).to_csv(index=False)
    rest = np.concatenate([np.full(2600, 0.74), A])
    slow = pd.DataFrame({"Time (ms)": [f"{5 * k}" for k in range(rest.size)],
                         "a (mV)": [grouped(1e3 * v, ".") for v in rest],
                         "b (mV)": [grouped(500 * v, ".") for v in rest]})
    yield "thousands only after a long rest", slow.to_csv(index=False, sep=";"), (rest, rest / 2)
    yield "above a thousand throughout", pd.DataFrame(
        {"Time (ms)": [f"{5 * k}" for k in range(N)],
         "a (mV)": [grouped(1e3 * (v + 0.5), ".") for v in A]}).to_csv(
             index=False, sep=";"), (A + 0.5,)
    yield "two notations", pd.DataFrame(
        {"Time (s)": [f"{t:.3f}" for t in T],
         "a (mV)": [grouped(1e3 * v, ".") for v in A]}).to_csv(index=False, sep=";")
    yield "index column", wide.to_csv()
    yield "time last", wide[["a", "b", "time_s"]].to_csv(index=False)
    yield "quoted", wide.to_csv(index=False, quoting=1)
    yield "two times", pd.DataFrame(
        {"Time": [f"09:26:{53 + int(t):02d}" for t in T], "time_ms": (T * 1e3).round(),
         "a": A, "b": B}).to_csv(index=False)


def outcome(text, folder, truth=(A, B)):
    """Return "right", "asked: ..." or "MISREAD: ..."."""
    log = folder / "log.csv"
    log.write_text(text, encoding="utf-8", newline="")
    try:
        got = import_log(log, ImportOptions())
    except BenchError as error:
        line = str(error)
        return f"asked: {line[-150:]}" if "\n" not in line else f"MISREAD: many lines {line}"
    columns = {c.column: c.readings for c in got.channels}
    for name, true in zip("ab", truth, strict=False):
        if name in columns:
            if columns[name].size != true.size:
                return f"MISREAD: {columns[name].size} rows"
            if not np.allclose(columns[name], true, atol=6e-4):
                return f"MISREAD: {name} {columns[name][:3]} is {true[:3]}"
    step = np.diff(got.time_s)
    if not np.allclose(step, 0.005, atol=1e-6):
        return f"MISREAD: steps {step[:3]}"
    return "right" if set(columns) >= {"a"} else f"MISREAD: {set(columns)}"


def main():
    """Count and print."""
    counts = {"right": 0, "asked": 0, "MISREAD": 0}
    with tempfile.TemporaryDirectory() as folder:
        for name, text, *truth in (*frames(), *odd_ones()):
            said = outcome(text, Path(folder), *truth)
            counts[said.partition(":")[0]] += 1
            if said != "right":
                print(f"{name}: {said}")
    print(f"{sum(counts.values())} dialects:",
          ", ".join(f"{k} {v}" for k, v in counts.items()))
    return int(counts["MISREAD"] > 0 or sum(counts.values()) < 120)


if __name__ == "__main__":
    sys.exit(main())
