"""Every code has its words, its gravity and, where it speaks of one, its claim."""

import ast

import pytest
from places import ROOT

from analysis.evidence import key_on as key_on_table
from analysis.evidence.sweep import SPEAKS_OF, subject_of
from analysis.key_on.opening import HINDERS
from analysis.model.codes import LOG, SWEEP
from analysis.model.finding import KEY_ON_CODES, SWEEP_CODES, code_of
from bench.services.findings import open_findings
from bench.services.key_on import open_key_on
from bench.wording import (
    board_check,
    compare,
    dead_band,
    doubts,
    faults,
    key_on_allowance,
    key_on_found,
    key_on_reasons,
    refusals,
    remedies,
    senders,
    settings,
    sweep,
    tones,
)
from bench.wording.actions import ANOTHER_SWEEP
from bench.wording.face import PAPER, TERMINAL, WINDOW
from bench.wording.reasons import words
from bench.wording.short import PHRASES, QUIET

SAMPLES = ROOT / "sample_sweeps"
SWEEPS = sorted(p for p in SAMPLES.glob("synthetic_*.csv") if "key_on" not in p.name)
LOGS = sorted(SAMPLES.glob("synthetic_key_on*.csv"))
# Their sentences come with them: what was seen of a fault, what a log in the car showed.
FAULTS = frozenset({
    "dropout", "no reading", "open or short", "dead track", "late track", "flat spot", "noise",
    "clipping", "gap", "no return", "slow return", "hangs on its way", "not settled",
    "foot at rest", "step", "mismatch", "same wiper", "supply sag", "supply lost"})
OF_THE_CAR = frozenset({
    "log in the values", "log too noisy", "log passed the start of travel",
    "log not read all the time", "moves with warmth", "brake with pedal in the log",
    "allowance for the car"})
# Told in full only: nothing that a short page has room for.
LONG_ONLY = frozenset({"supply read seldom", "log not read all the time", "moves with warmth",
                       "brake with pedal in the log", "allowance for the car"})
# Codes that only inform, and settle no claim.
INFORMS = frozenset({"full at its output limit", "third track alone", "third track compared",
                     "hand throttle", "direction changed while pressed",
                     "stated in ohms", "known resistor assumed", "broken lead unseen",
                     "supply read seldom",
                     "step estimated", "hum", "dead band stated", "pair measured",
                     "shared short unseen"}) | OF_THE_CAR


def _reason_codes() -> set[str]:
    """Return every code with which `analysis` or a service makes a reason."""
    codes = set()
    for path in (*(ROOT / "analysis").rglob("*.py"), *(ROOT / "bench/services").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in (
                    "Reason", "_stands") and node.args:
                codes |= {c.value for c in ast.walk(node.args[0])
                          if isinstance(c, ast.Constant) and isinstance(c.value, str)}
    return codes


def test_every_code_of_a_sweep_has_a_sentence() -> None:
    """Its own words, a fault's, or those that a log in the car brings."""
    assert set(SWEEP_CODES) == set(sweep.WORDS) | FAULTS | OF_THE_CAR
    assert not set(sweep.WORDS) & (FAULTS | OF_THE_CAR)


def test_every_code_of_a_log_has_a_sentence() -> None:
    """Each code of a key-on log has its words, and so has what is carried with the values."""
    assert set(key_on_found.WORDS) == set(KEY_ON_CODES) | OF_THE_CAR - {"allowance for the car"}


def test_everything_that_hinders_a_bound_has_words() -> None:
    """No code reaches a sheet bare; what two of them say depends on the log."""
    assert set(key_on_allowance.HINDRANCES) == HINDERS | {
        "power came", "contactor open", "contactor not stated", "supply not logged",
        "readings missing"}


def test_every_code_has_a_short_line_or_is_told_in_full_only() -> None:
    """A short page never shows a bare code."""
    assert {*SWEEP_CODES, *KEY_ON_CODES} <= set(PHRASES) | QUIET | LONG_ONLY


def test_every_code_has_its_gravities() -> None:
    """One row each, and no row of another code."""
    assert set(SWEEP) == set(SWEEP_CODES)
    assert set(LOG) == set(KEY_ON_CODES)


def test_every_code_of_a_sweep_speaks_of_a_claim_or_only_informs() -> None:
    """A grave code without a claim would make a sweep bad that no claim calls so."""
    assert set(SWEEP_CODES) - set(SPEAKS_OF) <= INFORMS
    assert set(SPEAKS_OF) <= set(SWEEP_CODES)


def test_the_claims_of_a_log_name_codes_that_there_are() -> None:
    """A misspelt code in a table would never match."""
    named = key_on_table.UNSEEN | key_on_table.OF_LEADS | key_on_table.ELSEWHERE
    assert named <= set(KEY_ON_CODES)


def test_every_reason_has_words_and_every_word_a_reason() -> None:
    """What the analysis gives as a reason can be said, and nothing is kept that nobody says."""
    made = _reason_codes()
    assert made <= set(words()) | {"part", "direction", "even", "stick", "wide"} | set(SWEEP_CODES)
    # "entered" is the user's own value, which a service states.
    assert set(words()) - made <= {"entered"}


def test_no_reason_has_words_in_two_places() -> None:
    """Two modules with words for one code would hide one of them."""
    tables = [m.WORDS for m in (doubts, dead_band, settings, remedies, compare, faults,
                                key_on_allowance, key_on_reasons, board_check, tones)]
    assert sum(map(len, [*tables, *senders.tables()])) == len(words())
    assert not set(words()) & set(refusals.WORDS)


def test_an_unknown_code_is_no_code() -> None:
    """A word that is none is refused, not passed on to a sheet."""
    with pytest.raises(KeyError):
        code_of("something new")


@pytest.mark.parametrize("path", SWEEPS, ids=lambda p: p.stem.removeprefix("synthetic_"))
def test_what_a_sample_shows_keeps_to_the_tables(path) -> None:
    """Each finding has a gravity of its row, its subject, and a sentence for every face."""
    for found in open_findings(path).graded:
        assert found.gravity in SWEEP[found.code].gravity, found
        assert found.subject == subject_of(found.code, found.channel)
        spoken = [sweep.sentence(found, face) for face in (TERMINAL, WINDOW, PAPER)]
        assert all(text and "{" not in text for text in spoken)
        assert all("--" not in text for text in spoken[1:]), spoken
        # The button of the page Decide goes by the code.
        assert "weep again" not in spoken[1] or found.code in ANOTHER_SWEEP | FAULTS


@pytest.mark.parametrize("path", LOGS, ids=lambda p: p.stem.removeprefix("synthetic_"))
def test_what_a_log_shows_keeps_to_the_table(path) -> None:
    """Each finding of a key-on log has a gravity of its row."""
    for found in open_key_on(path).found:
        assert found.gravity in LOG[found.code].gravity, found
        spoken = [key_on_found.log_sentence(found, face) for face in (TERMINAL, WINDOW, PAPER)]
        assert all(text and "{" not in text for text in spoken)
        assert all("--" not in text for text in spoken[1:]), spoken
        assert "page" not in spoken[0]
