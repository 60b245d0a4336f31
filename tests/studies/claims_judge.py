"""What the claims about a sweep come down to, read from its findings as data, for all scripts."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from studies.independent_pedal import runner

from analysis.evidence.sweep import PAIR
from analysis.model.errors import AnalysisError
from analysis.model.recording import Recording
from analysis.pedal.findings import Findings, analyse
from bench.wording.reasons import in_words
from bench.wording.refusals import refused
from bench.wording.sweep import sentence

# Faults that are of no track: told of the recording, the pair or the pedal.
OF_NONE = ("gap", "mismatch", "no return", "slow return")
# Codes that say of a track that something is wrong with it.
BLAMES = ("dropout", "no reading", "open or short", "flat spot", "noise", "clipping", "dead track",
          "late track", "step")


@dataclass(frozen=True)
class Said:
    """Hold what was said of one sweep.

    refused: the one line of an error, else "". grave: the gravest gravity. accused: tracks that a
    fault of gravity 2 or more names; told: of 1 or more. near: tracks ("" is the pair) of faults
    told within the time asked for. weak: a promise is withdrawn. values: starts of travel are
    given. nan: a person would read "nan". pair_told: something is asked of the pair. claims: the
    state of each claim; because: the codes of every claim that is not sound.
    """

    refused: str
    grave: int
    sound: bool
    accused: tuple[str, ...]
    told: tuple[str, ...]
    near: tuple[str, ...]
    weak: bool
    values: bool
    nan: bool
    pair_told: bool
    claims: dict[str, str]
    because: tuple[str, ...]
    headline: str
    faults: tuple[str, ...]

    def any_open(self, claims: Sequence[str]) -> bool:
        """Return whether one at least of these claims is not sound (nothing is, when refused)."""
        return bool(self.refused) or any(self.claims[c] != "sound" for c in claims)


def say(recording: Recording, near_s: tuple[float, float] | None = None) -> Said:
    """Return what the analysis says of a sweep."""
    try:
        found: Findings = analyse(recording)
    except AnalysisError as error:
        line = refused(error)
        return Said(line, 3, False, (), (), (), True, False, "nan" in line.split(),
                    False, {}, (), line, ())
    graded = found.graded
    faults = found.faults
    named = [(f.gravity, f.channel) for f in faults if f.channel and f.kind not in OF_NONE]
    # A sentence of a fault without a row in `faults` tells its track too.
    named += [(s.gravity, s.channel) for s in graded if s.channel and s.code in BLAMES]
    near: list[str] = []
    if near_s is not None:
        near = [f.channel or "" for f in faults
                if f.time_s <= near_s[1] and f.end_s >= near_s[0]]
    starts = [s.value for s in found.settings if s.name == "start_of_travel"]
    texts = [sentence(s) for s in graded] + [in_words(s.why) for s in found.settings]
    return Said(
        "", max([s.gravity for s in graded] + [f.gravity for f in faults], default=0),
        bool(found.sound), tuple(sorted({c for g, c in named if g >= 2 and c in "ab"})),
        tuple(sorted({c for g, c in named if g >= 1 and c in "ab"})), tuple(near),
        any(b.weak is not None for b in found.dead_bands.values()),
        bool(np.isfinite(starts).any()), any(" nan" in f" {t}" for t in texts),
        any(s.gravity >= 1 and s.code in PAIR and s.code != "pair measured" for s in graded),
        {c.claim: c.state for c in found.claims},
        tuple(dict.fromkeys(b for c in found.claims for b in c.because)),
        sentence(graded[0]) if graded else "",
        tuple(f"{f.kind}/{f.channel}/{f.gravity}/{f.time_s:.1f}s" for f in faults))


def arguments(words: str | None, cases: int) -> Namespace:
    """Return what was asked for, of the options that every script has."""
    return options(words, cases).parse_args()


def options(words: str | None, cases: int) -> ArgumentParser:
    """Return the options that every script has."""
    parser = ArgumentParser(description=words)
    parser.add_argument("--cases", type=int, default=cases)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--show", type=int, default=8, help="lines to print of what went wrong")
    return parser


def percent(flags: Sequence[bool]) -> float:
    """Return how many of 100."""
    return 100.0 * sum(flags) / max(len(flags), 1)


def run(judge: Callable[[int], object], asked: Namespace) -> list[object]:
    """Return the judgement of every case."""
    return runner(range(asked.first, asked.first + asked.cases), judge, asked.workers)


def finish(bars: Sequence[tuple[str, float, str, bool]]) -> int:
    """Print figures beside their bars; return 1 when one is missed."""
    for name, value, bar, met in bars:
        print(f"{name}: {value:.2f} (bar {bar}){'' if met else '   MISSED'}")
    sys.stdout.flush()
    return int(not all(met for *_, met in bars))
