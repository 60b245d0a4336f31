"""A pedal, its sweep and its key-ons as text files, made with numpy alone.

Straight films, white noise, a converter that floors. Nothing of `analysis` or of the other
generators is used, so what they share by mistake is not shared here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

Cycles = list[tuple[float, float]]
RATE = 100.0
ENDS = ((0.70, 3.90), (1.00, 4.20))


@dataclass
class PlainCar:
    """Hold what a log is made of; the fields that a test leaves alone are of a quiet car.

    lift: (times, cycles) -> volts towards pressed on track a. lost: (times, cycles) -> rows that
    are missing. change: (times, cycles, columns) changes columns in place. key: the key wire's
    volts, None: as the key is. marks: (seconds, text) from cycles.
    """

    key_ons: int = 4
    off_s: float = 6.0
    on_s: float = 12.0
    rest: float = 0.0
    with_supply: bool = True
    bits: int = 12
    full_volts: float = 5.6
    volts: float = 5.0
    lift: Callable[[np.ndarray, Cycles], np.ndarray] | None = None
    lost: Callable[[np.ndarray, Cycles], np.ndarray] | None = None
    change: Callable[[np.ndarray, Cycles, dict[str, np.ndarray]], None] | None = None
    key: Callable[[np.ndarray], np.ndarray] | None = None
    with_key: bool = True
    marks: Callable[[Cycles], Sequence[tuple[float, str]]] | None = None
    board: dict[str, str] = field(default_factory=dict)

    def code(self, rng: np.random.Generator, volts: np.ndarray) -> np.ndarray:
        """Return the converter's codes of volts at the sensor."""
        codes = np.floor(volts / self.full_volts * 2**self.bits + rng.normal(0, 0.3, volts.size))
        return np.clip(codes, 0, 2**self.bits - 1)

    def sweep(self, path: Path, presses: int = 8) -> Path:
        """Write a sweep of that many presses."""
        rng = np.random.default_rng(presses)
        keys, now = [(0.0, 0.0), (2.0, 0.0)], 2.0
        for _ in range(presses):
            rest = rng.normal(0, 0.0004)
            keys += [(now + 1.0, 1.0), (now + 2.2, 1.0), (now + 2.5, rest), (now + 4.8, rest)]
            now += 4.8
        at, to = (np.array(x) for x in zip(*keys, strict=True))
        times = np.arange(int(now * RATE)) / RATE
        columns = self._columns(rng, times, np.interp(times, at, to), np.zeros(times.size))
        return self._write(path, "sweep", times, columns, [])

    def log(self, path: Path, seed: int = 1) -> tuple[Path, Cycles]:
        """Write a key-on log; return its path and when the key was on."""
        rng, cycles, now = np.random.default_rng(seed), [], 0.0
        for _ in range(self.key_ons):
            start = now + self.off_s * rng.uniform(1.0, 1.1)
            now = start + self.on_s * rng.uniform(1.0, 1.1)
            cycles.append((start, now))
        times = np.arange(int((now + 3.0) * RATE)) / RATE
        on = np.logical_or.reduce([(times >= a) & (times < b) for a, b in cycles])
        up = np.zeros(times.size) if self.lift is None else self.lift(times, cycles)
        columns = self._columns(rng, times, np.full(times.size, self.rest), up + 0.002 * on)
        if self.with_key:
            wire = 12.3 * on if self.key is None else self.key(times)
            columns["key"] = np.round(wire + rng.normal(0, 0.02, times.size), 2)
        if self.change is not None:
            self.change(times, cycles, columns)
        marks = [] if self.marks is None else list(self.marks(cycles))
        kept = np.ones(times.size, bool) if self.lost is None else ~self.lost(times, cycles)
        return self._write(path, "key-on", times[kept],
                           {n: c[kept] for n, c in columns.items()}, marks), cycles

    def _columns(self, rng: np.random.Generator, times: np.ndarray, travel: np.ndarray,
                 up: np.ndarray) -> dict[str, np.ndarray]:
        feed = self.volts + rng.normal(0, 0.0005, times.size)
        columns = {}
        for name, (low, high) in zip("ab", ENDS, strict=True):
            level = (low + (high - low) * travel + up * (name == "a")) / 5.0 * feed
            columns[name] = self.code(rng, level + rng.normal(0, 0.0012, times.size))
        if self.with_supply:
            columns["supply"] = self.code(rng, feed)
        return columns

    def _write(self, path: Path, purpose: str, times: np.ndarray, columns: dict[str, np.ndarray],
               marks: Sequence[tuple[float, str]]) -> Path:
        head = ["stillpedal_recording = 1", 'title = "plain"', f'purpose = "{purpose}"',
                f"rate_hz = {RATE}", 'contactor = "closed"', "[board]", 'name = "plain"',
                *(f"{k} = {v}" for k, v in self.board.items())]
        for name in columns:
            role = "track" if name in "ab" else name
            head += ["[[channel]]", f'column = "{name}"', f'role = "{role}"']
            head += (['unit = "V"', "reading_step = 0.01"] if name == "key" else
                     ['unit = "counts"', f"full_scale = {2**self.bits}",
                      f"reference_volts = {self.full_volts}"])
            head += ["nominal_volts = 5.0"] if name == "supply" else []
        text = {int(np.searchsorted(times, s)): t for s, t in marks}
        lines = ["# " + line for line in head] + ["time_s," + ",".join(columns) + ",mark"]
        for row, at in enumerate(times):
            cells = ["" if np.isnan(c[row]) else f"{c[row]:g}" for c in columns.values()]
            lines.append(f"{at:.6f},{','.join(cells)},{text.get(row, '')}")
        path.write_text("\n".join(lines) + "\n", newline="\n")
        return path


def during(after: float, length: float, only: int | None = None,
           ) -> Callable[[np.ndarray, Cycles], np.ndarray]:
    """Return what is 1 for so long, so late after each key-on (or after one of them), else 0."""
    def made(times: np.ndarray, cycles: Cycles) -> np.ndarray:
        chosen = cycles if only is None else [cycles[only]]
        return np.logical_or.reduce([(times >= on + after) & (times < on + after + length)
                                     for on, _ in chosen])
    return made
