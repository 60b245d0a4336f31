"""Every error of the analysis is a code with values; its line is made in bench/wording."""

import ast
import pickle
from string import Formatter

import pytest
from places import ROOT

from analysis.model import errors
from analysis.model.errors import AnalysisError, NoKeyOn, NoTrack
from bench.wording.face import PAPER, TERMINAL, WINDOW
from bench.wording.refusals import WORDS, refused

ERRORS = frozenset(name for name, each in vars(errors).items()
                   if isinstance(each, type) and issubclass(each, AnalysisError)
                   and name != "OutOfLimits")


def _raised() -> list[tuple[str, ast.Call]]:
    """Return every making of an error of `analysis`, there and in the services."""
    return [(f"{path.relative_to(ROOT)}:{node.lineno}", node)
            for path in sorted([*(ROOT / "analysis").rglob("*.py"),
                                *(ROOT / "bench/services").glob("*.py")])
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            and node.func.id in ERRORS]


def _needs(code: str) -> set[str]:
    """Return the values that the words of a code are made of."""
    words = WORDS[code]
    made = {"by_hand", "parameter", "cause", "remedy", "none", "digits_word"}
    return {name for text in ((words,) if isinstance(words, str) else words)
            for _, name, _, _ in Formatter().parse(text) if name} - made


def test_every_error_of_the_analysis_is_a_code_with_the_values_of_its_words() -> None:
    """No sentence is raised, no code lacks words, no word is left that nobody says."""
    raised = _raised()
    wrong = [place for place, call in raised
             if not (call.args and isinstance(call.args[0], ast.Constant)
                     and call.args[0].value in WORDS
                     and _needs(call.args[0].value) <= {k.arg for k in call.keywords})]
    assert raised
    assert not wrong
    assert set(WORDS) == {call.args[0].value for _, call in raised}


def test_no_sentence_is_raised_in_the_analysis() -> None:
    """What `analysis` raises carries a code, never a sentence of its own or one it makes up."""
    wrong = [f"{path.relative_to(ROOT)}:{node.lineno}"
             for path in sorted((ROOT / "analysis").rglob("*.py"))
             for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
             if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)
             for part in ast.walk(node.exc)
             if isinstance(part, ast.JoinedStr)
             or (part in node.exc.args and isinstance(part, ast.Constant)
                 and part.value not in WORDS)]
    assert not wrong


def test_each_face_is_told_what_it_has() -> None:
    """The window is sent to its page, the terminal to none."""
    error = NoTrack("sweep without track")
    assert "page" in refused(error, WINDOW)
    assert "page" not in refused(error, TERMINAL)
    assert "key press" in refused(NoKeyOn("no key-on", rows=300), TERMINAL)
    assert "key press" not in refused(NoKeyOn("no key-on", rows=300), PAPER)


def test_an_error_comes_back_from_another_process() -> None:
    """Its code and values with it, so that its line is the same."""
    error = NoKeyOn("no key-on", rows=300)
    assert refused(pickle.loads(pickle.dumps(error))) == refused(error)
    assert "300 rows" in refused(error)


@pytest.mark.parametrize("error", [ValueError("3 is odd; use 4"), OSError("disk full")])
def test_another_error_says_its_own(error: Exception) -> None:
    """What carries no code keeps its sentence."""
    assert refused(error) == str(error)
