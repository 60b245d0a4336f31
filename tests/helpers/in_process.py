"""A verb run as a user does, but in this process: another would load everything anew."""

import io
import subprocess
from contextlib import redirect_stderr, redirect_stdout

from bench.command_line import main


def stillpedal(*words: str) -> subprocess.CompletedProcess[str]:
    """Return how a verb ended and what it printed."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main(list(words))
        except SystemExit as end:
            status = int(end.code or 0)
    return subprocess.CompletedProcess(words, status, out.getvalue(), err.getvalue())
