"""The shell completes verbs and options as the parser has them; argcomplete speaks its dialect."""

import os
import subprocess
import sys

import pytest
from places import ROOT

from bench.acquisition.boards.serial_board import FoundPort
from bench.command_line import main
from bench.command_line.completion import SHELLS


@pytest.mark.parametrize("shell", SHELLS)
def test_each_shell_gets_lines_that_name_the_program(shell, capsys):
    assert main(["completion", shell]) == 0
    said = capsys.readouterr().out
    assert "stillpedal" in said
    assert "_ARGCOMPLETE" in said


def _completed(line: str, tmp_path) -> list[str]:
    """Return what the program answers when a shell asks, by argcomplete's protocol."""
    answers = tmp_path / "answers"
    subprocess.run(
        [sys.executable, "-m", "bench"], cwd=ROOT, timeout=60, check=False, capture_output=True,
        env={**os.environ, "_ARGCOMPLETE": "1", "_ARGCOMPLETE_IFS": "\013", "COMP_LINE": line,
             "COMP_POINT": str(len(line)), "_ARGCOMPLETE_STDOUT_FILENAME": str(answers)})
    return [word.strip() for word in answers.read_text().split("\013")]


def test_verbs_and_options_are_completed(tmp_path):
    assert _completed("stillpedal fin", tmp_path) == ["findings"]
    options = _completed("stillpedal sweep --pre", tmp_path)
    assert "--presses" in options
    assert "--press-s" in options
    # A name of old is accepted and not offered.
    assert "--cycles" not in _completed("stillpedal sweep --c", tmp_path)


def test_the_list_of_boards_says_which_port_is_probably_the_converter(monkeypatch, capsys):
    def listed(*ports):
        monkeypatch.setattr("bench.acquisition.boards.serial_board.found_ports", lambda: ports)
        assert main(["boards"]) == 0
        return capsys.readouterr().err

    board, line = FoundPort("/dev/ttyACM0", "", True), FoundPort("/dev/ttyS0", "")
    one = listed(board, line)
    assert "/dev/ttyACM0 is probably the converter" in one
    assert "next: stillpedal boards --check /dev/ttyACM0" in one
    assert "pull its plug" in listed(board, FoundPort("/dev/ttyUSB0", "", True))
    assert "probably" not in listed(line)
