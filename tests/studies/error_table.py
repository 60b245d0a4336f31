"""Gather errors and coverage of printed numbers, and print them beside their bars.

A standard uncertainty is held when 93 to 98 % of truths lie within two of them, a stated 95 %
interval when it holds 93 to 97 % (JCGM 100:2008, G.3: 95.4 and 95 for normal errors). A promise
"at most" or "at least" so much is held on its own side only. What lies above a two-sided bar is
"wide": the number is surer than it says, which moves no car by itself.
"""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

BARS = {"2u": (93.0, 98.0), "95%": (93.0, 97.0)}


@dataclass
class Number:
    """Hold the errors of one printed number and whether its stated limits held the truth."""

    kind: str = ""
    unit: str = ""
    errors: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)

    @property
    def share(self) -> float:
        """Return the share of truths inside the stated limits, %; NaN when none are stated."""
        return 100.0 * float(np.mean(self.inside)) if self.inside else float("nan")

    def verdict(self) -> str:
        """Return "held", "wide", "BROKEN", or "" where no limits are stated."""
        if not self.inside:
            return ""
        if self.kind in BARS:
            low, high = BARS[self.kind]
            return "BROKEN" if self.share < low else "wide" if self.share > high else "held"
        return "held" if self.share >= float(self.kind.split()[1]) else "BROKEN"


class Figures:
    """Hold numbers by name, in order of first use."""

    def __init__(self) -> None:
        self.numbers: dict[str, Number] = {}
        self.seeds = 0

    def add(self, name: str, unit: str, stated: float, true: float,
            uncertainty: float | None = None,
            limits: tuple[float, float] | None = None) -> None:
        """Add one case: stated and true value, with the standard uncertainty or the 95 % limits."""
        if not np.isfinite(true):
            return
        number = self.numbers.setdefault(name, Number(unit=unit))
        number.errors.append(stated - true)
        if uncertainty is not None and np.isfinite(uncertainty):
            number.kind = "2u"
            number.inside.append(bool(abs(stated - true) <= 2.0 * uncertainty))
        if limits is not None and np.isfinite(limits[0]):
            number.kind = "95%"
            number.inside.append(bool(limits[0] <= true <= limits[1]))

    def promise(self, name: str, kept: bool, least: float, beside: float = float("nan"),
                unit: str = "") -> None:
        """Add one case of a promise kept in at least so many % of cases; beside: its cost."""
        number = self.numbers.setdefault(name, Number(f">= {least:g}", unit))
        number.inside.append(bool(kept))
        if np.isfinite(beside):
            number.errors.append(beside)

    def table(self) -> str:
        """Return every number: cases, median and 95th percentile of the error, coverage."""
        lines = [f"{'number':52s} {'cases':>6s} {'mean':>9s} {'median|e|':>9s} {'95 %|e|':>9s} "
                 f"{'unit':9s} {'inside':>7s} {'bar':>8s}"]
        for name, number in self.numbers.items():
            size = np.abs([e for e in number.errors if np.isfinite(e)])
            mean = float(np.mean(number.errors)) if size.size else np.nan
            middle, far = (np.quantile(size, [0.5, 0.95]) if size.size else (np.nan, np.nan))
            bar = ("" if not number.inside else "{:g}-{:g}".format(*BARS[number.kind])
                   if number.kind in BARS else number.kind)
            share = f"{number.share:6.1f}%" if number.inside else ""
            lines.append(
                f"{name:52s} {max(len(number.errors), len(number.inside)):6d} {mean:+9.3g} "
                f"{middle:9.3g} {far:9.3g} {number.unit:9s} {share:>7s} {bar:>8s}  "
                f"{number.verdict()}")
        return "\n".join(lines)

    def broken(self) -> list[str]:
        """Return the names of the numbers whose bar is broken."""
        return [n for n, number in self.numbers.items() if number.verdict() == "BROKEN"]

    def surely_broken(self) -> list[str]:
        """Return the same, less what so few cases can do by chance (3 standard errors)."""
        names = []
        for name, number in self.numbers.items():
            least = BARS[number.kind][0] if number.kind in BARS else 0.0
            if number.inside and number.kind not in BARS:
                least = float(number.kind.split()[1])
            share = min(least / 100.0, 0.99)
            chance = 3.0 * np.sqrt(share * (1.0 - share) / max(len(number.inside), 1))
            # A single case says nothing of a share.
            if len(number.inside) >= 8 and number.share / 100.0 < share - chance:
                names.append(name)
        return names

    def missing(self) -> dict[str, int]:
        """Return how many stated values were no number although the truth is one."""
        gone = {n: int(np.sum(~np.isfinite(number.errors)))
                for n, number in self.numbers.items()}
        return {n: count for n, count in gone.items() if count}


def _shown(value: float, sign: str = "") -> str:
    return f"{value:{sign}9.3g}" if np.isfinite(value) else f"{'-':>9s}"


def report(title: str, figures: Figures) -> int:
    """Print the figures; return 1 when one is broken."""
    print(f"{title}: {figures.seeds} seeds")
    print(figures.table())
    gone = figures.missing()
    if gone:
        print("not stated although there was something to state: "
              + ", ".join(f"{n} {count}" for n, count in gone.items()))
    broken = figures.broken()
    print("all held" if not broken else "BROKEN: " + ", ".join(broken))
    sys.stdout.flush()
    return int(bool(broken))


def run(title: str, doc: str, cases: str, usual: int, quick: int,
        measure: Callable[[int, Figures, int], None]) -> int:
    """Parse the call, measure so many cases from the first, print; return 1 when a bar is broken.

    cases: what they are called on the command line, as "seeds" for --seeds; each stands for one
    of every condition.
    """
    parser = argparse.ArgumentParser(description=doc.splitlines()[0])
    parser.add_argument(f"--{cases}", dest="count", metavar="N", type=int, default=usual,
                        help="of each condition")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--quick", action="store_true")
    call = parser.parse_args()
    figures = Figures()
    measure(quick if call.quick else call.count, figures, call.first)
    return report(title, figures)
