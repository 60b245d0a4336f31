"""docs/first_session.md shows what the commands of steps 2 to 7 really print.

The page is held against the commands themselves: no outside source.
"""

import re
import shlex

import pytest
from places import ROOT

from bench.command_line import main

PAGE = ROOT / "docs/first_session.md"
# Answers without a pedal's sheet in them, or with another board's date.
NOT_RUN = ("boards", "report", "window")


def _blocks() -> list[tuple[list[str], list[str]]]:
    """Return (words of the command, what is shown below it) of steps 2 to 7, in order."""
    text = PAGE.read_text(encoding="utf-8")
    steps = text[text.index("## 2. "): text.index("When all is well")]
    result: list[tuple[list[str], list[str]]] = []
    for line in steps.splitlines():
        if line.startswith("    $ stillpedal "):
            result.append((shlex.split(line.removeprefix("    $ stillpedal ")), []))
        elif line.startswith("    ") and result:
            result[-1][1].append(line.strip())
        elif line.strip() and result and result[-1][1]:
            result[-1][1].append("...")
    return result


def _pieces(lines: list[str]) -> list[str]:
    """Return the runs of shown lines between dots, blanks collapsed."""
    whole = re.split(r"\.\.\.", "\n".join(lines))
    return [" ".join(piece.split()) for piece in whole if piece.strip()]


def test_the_page_shows_what_is_printed(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my_list.txt").write_text("{start_of_travel.a}\n")
    wrong, shown = [], 0
    for words, lines in _blocks():
        if words[0] in NOT_RUN:
            continue
        assert main(words) == 0, words
        said = capsys.readouterr()
        flat = " ".join((said.err + said.out).split())
        for piece in _pieces(lines):
            shown += 1
            # A setting is shown without its reason: line by line then.
            if piece not in flat and not all(
                    " ".join(line.split()) in flat for line in lines if line != "..."):
                wrong.append((words, piece))
    assert not wrong
    assert shown > 8


@pytest.mark.parametrize("block", [b for b in _blocks() if b[0][0] == "sweep"])
def test_its_sweeps_are_simulated(block):
    """Nothing on the page needs a board to be tried."""
    assert "simulated" in block[0]
