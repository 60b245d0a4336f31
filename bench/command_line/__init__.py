"""The command `stillpedal`: one thin module per verb, loaded only when it is called.

A verb's module offers `add_arguments(parser)` and `run(arguments) -> int`. Exit status: 0 done;
1 done, `--strict` was asked and something failed its limit; 2 unusable input or call, with one
line on stderr.
"""

import argparse
import contextlib
import importlib
import os
import re
import sys
from collections.abc import Sequence
from typing import NoReturn

from analysis.model.errors import AnalysisError
from bench.command_line.plain_stream import PlainStream, let_go, standard_streams
from bench.errors import BadFile, BenchError
from bench.services.saving import keep_freed_memory
from bench.wording.refusals import refused

# In the order of the work: verb -> (module below this package, what it does).
VERBS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "sweep a simulated faulty pedal, end to end, and show its settings sheet"),
    "boards": ("boards", "list the boards that could be read; --check tries one"),
    "sweep": ("sweep", "record a guided sweep of the pedal on the bench"),
    "findings": ("findings", "say what a recorded sweep shows"),
    "settings": ("settings", "print the recommended values, each with its reason"),
    "watch": ("watch", "log the rest readings in the car at key-on (reads only)"),
    "compare": ("compare", "set two recordings side by side: what moved, and is it real"),
    "meter": ("meter", "check any other sender against a meter"),
    "prove": ("prove", "prove on the car that it behaves, and write the page to be signed"),
    "report": ("report", "write the page for the car's folder (PDF or HTML)"),
    "export": ("export", "write the measurements for another program (CSV, MDF4)"),
    "import": ("import_log", "turn a log of other origin into a recording"),
    "trend": ("trend", "summarise a folder of recordings into one table"),
    "window": ("window", "open the bench window"),
    "completion": ("completion", "print what makes your shell complete verbs and options"),
}


# An error may quote a word out of a file, and that word may be megabytes long.
_LONGEST_ERROR = 1000


def _one_line(message: str) -> str:
    words = " ".join(message[: 4 * _LONGEST_ERROR].split())
    if len(words) <= _LONGEST_ERROR:
        return words
    half = _LONGEST_ERROR // 2
    # What to do stands at the end.
    return f"{words[:half]} ... {message[-half:]}".replace("\n", " ")


# argparse's own words for text where a number belongs.
_NO_NUMBER = re.compile(r"argument (?:\S+/)?(\S+): invalid (float|int) value: (.+)\Z", re.DOTALL)
# The unit that an option's name says.
_UNITS = {"volts": "volts", "seconds": "seconds", "s": "seconds", "rate": "rows per second"}


def _number_wanted(message: str) -> str:
    """Return the error with the option, its value, and the number and unit it takes."""
    match = _NO_NUMBER.match(message)
    if match is None:
        return message
    option, kind, text = match.groups()
    unit = _UNITS.get(option.rpartition("-")[2], "")
    number = ("a whole number" if kind == "int" else "a number") + (f" of {unit}" if unit else "")
    example = "100" if kind == "int" else "0.05" if unit == "volts" else "10"
    return f"{option} is {text}; give {number} without a unit, such as {example}"


class _OneLineParser(argparse.ArgumentParser):
    """A parser whose errors are one line that says what to do next."""

    def error(self, message: str) -> NoReturn:
        message = _number_wanted(message)
        self.exit(2, f"{self.prog}: {_one_line(message)}; see '{self.prog} --help'\n")


def build_parser(verb: str | None = None) -> argparse.ArgumentParser:
    """Return the parser; only the module of `verb` is loaded, or all when it is "all"."""
    from bench.version import version

    parser = _OneLineParser(
        prog="stillpedal",
        description="Make a two-potentiometer throttle pedal trustworthy before the first drive. "
        "Stillpedal only reads; it never commands a vehicle.",
    )
    parser.add_argument("--version", action="version", version=f"stillpedal {version()}")
    subparsers = parser.add_subparsers(
        dest="verb", metavar="VERB", required=True, parser_class=_OneLineParser)
    for name, (module_name, summary) in VERBS.items():
        sub = subparsers.add_parser(name, help=summary, description=summary[:1].upper()
                                    + summary[1:] + ".")
        if verb in (name, "all"):
            module = importlib.import_module(f"bench.command_line.{module_name}")
            module.add_arguments(sub)
            sub.set_defaults(run=module.run)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one verb and return the exit status; errors become one line on stderr."""
    if argv is None and "_ARGCOMPLETE" in os.environ:
        from bench.command_line.completion import complete

        complete()
    words = list(sys.argv[1:] if argv is None else argv)
    verb = next((w for w in words if not w.startswith("-")), None)
    keep_freed_memory()
    # Our matrices are small: a second thread for them only waits, and takes twice the time.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    real = sys.stdout
    shown, told = standard_streams(real, sys.stderr)
    with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(told):
        try:
            return _run(verb, words)
        except SystemExit:  # --help and --version end so, and a wrong call does
            return _all_shown(shown)
        finally:
            if shown.failed:
                let_go(real)


def _all_shown(shown: PlainStream) -> int:
    """Go on with the exit that is under way when its words could be shown; else return 2."""
    try:
        shown.flush()
    except BenchError as error:
        return _told(error)
    raise


def _told(error: Exception) -> int:
    print(f"stillpedal: {_one_line(refused(error))}", file=sys.stderr)
    return 2


def _stand() -> int:
    """Say in two lines where the job in this folder stands and what is next, or in three."""
    from pathlib import Path

    from bench.services.folder import standing_of

    standing = standing_of(Path.cwd())
    first = f"first: {standing.first}\n" if standing.first else ""
    print(f"{_one_line(standing.said)}\n{first}next: {standing.next}")
    return 0


def _run(verb: str | None, words: list[str]) -> int:
    try:
        if not words:
            code = _stand()
            sys.stdout.flush()
            return code
        arguments = build_parser(verb).parse_args(words)
        # As they were given, for a next command that goes on from this one.
        arguments.words = words
        code = int(arguments.run(arguments))
        # What the system holds back may not fit on the disk; now it can still be told.
        sys.stdout.flush()
        return code
    except (AnalysisError, BenchError) as error:
        return _told(error)
    except KeyboardInterrupt:
        print("stillpedal: stopped by the user", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output went away (`| head`): not an error worth a word.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        # A name that no file can have, asked about in passing (up to Python 3.13).
        if error.filename is None:
            raise
        return _told(BadFile(f"cannot use {error.filename}: {error.strerror or error}; choose "
                             "another name or place"))
