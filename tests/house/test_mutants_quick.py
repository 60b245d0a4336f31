"""The tool that changes the analysis to see whether the tests notice, in its quick form."""

import ast
import os
import re
import subprocess
import sys

import pytest
from places import ROOT
from stress.mutants import mutants_of


def test_mutants_change_one_thing_each_and_neither_words_nor_annotations():
    source = '''
"""Words with 1 + 1."""
LIMIT: "tuple[int, 3]" = 2

def inside(low: float, high: float = 0.5) -> "float | 1":
    """Return 1 + 1."""
    if 0 < low <= high and not low == 7:
        return -low
    return low ** 2 * high
'''
    changes = [m.change for m in mutants_of(source)]
    # By hand: 2, 0.5, if, and, < and <= of one chain, 0, ==, 7, -, **, *, and the 2 of the power.
    assert len(changes) == 13
    for chain in ("0 <= low <= high", "0 < low < high"):
        assert ("inside: 0 < low <= high and (not low == 7) -> "
                f"{chain} and (not low == 7)") in changes
    assert "module: LIMIT: 'tuple[int, 3]' = 2 -> LIMIT: 'tuple[int, 3]' = 3" in changes
    assert len(set(changes)) == 13


def test_every_change_that_is_listed_as_equal_can_be_made():
    """A row that a renamed function or constant left behind would let its mutant count as open."""
    code, names, rows = "", set(), 0
    for line in (ROOT / "docs" / "mutants.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            path = next(path for house in ("analysis", "bench")
                        for path in (ROOT / house).rglob(f"{line[3:]}.py"))
            code = ast.unparse(ast.parse(path.read_text(encoding="utf-8")))
            names = {"module", *re.findall(r"(?:def|class) (\w+)", code)}
        elif line.startswith("| `"):
            function, before = re.match(r"\| `(\w+): (.*) -> .*` \|", line).groups()
            assert function in names, line
            assert before in code, line
            rows += 1
    assert rows > 30


# By hand, as the tool itself is: above, what it changes.
@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks")
def test_a_run_finds_its_tests_sound_and_kills_what_changes_a_quantile():
    # It says so itself when the tests fail unchanged, or pass although every function returns None.
    done = subprocess.run(
        [sys.executable, str(ROOT / "tests/stress/mutants.py"), "--module", "straight_line",
         "--only", "chi_quantile"], capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "straight_line: 5 tried, 5 killed, 0 equal, 0 open of 5" in done.stdout
