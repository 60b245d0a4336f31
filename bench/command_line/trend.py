"""`stillpedal trend FOLDER`: summarise a folder of recordings into one table."""

import argparse
import sys
import time
from pathlib import Path

from bench.command_line.parameter_options import add_parameters, parameters_from
from bench.errors import BadCall


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("folder", metavar="FOLDER", help="recordings, also in folders below it")
    parser.add_argument("--pattern", default="*.csv", help="names to take (default *.csv)")
    parser.add_argument("--out", metavar="PATH",
                        help="the whole table (default: stdout; a screen gets the newest sweeps)")
    parser.add_argument("--json", action="store_true", help="JSON instead of a CSV table")
    parser.add_argument("--processes", type=int, metavar="N", help="default: all cores")
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the table; unusable files are listed on stderr and do not stop it."""
    from bench.services.saving import refuse_existing, write_output
    from bench.services.trend import (
        recordings_in,
        summarise,
        table_brief,
        table_json,
        table_text,
    )

    if arguments.processes is not None and arguments.processes < 1:
        raise BadCall(f"--processes is {arguments.processes}; use 1 or more")
    folder = Path(arguments.folder)
    out = Path(arguments.out) if arguments.out else None
    if out:
        # Better now than after an hour's work.
        refuse_existing(out)
    paths = recordings_in(folder, arguments.pattern)
    bar = _Bar(len(paths))
    lines = summarise(paths, folder, parameters_from(arguments), arguments.processes, bar.show)
    bar.end()
    # A screen is no place for fifty columns; a pipe and a file get them all.
    if sys.stdout.isatty() and not out and not arguments.json:
        sys.stdout.write(table_brief(lines, folder))
        _tell_pages(folder)
        return 0
    text = table_json(lines) if arguments.json else table_text(lines)
    if out:
        write_output(out, text)
    else:
        sys.stdout.write(text)
    bad = [line for line in lines if line.error]
    for line in bad:
        print(f"not used: {line.file}: {line.error}", file=sys.stderr)
    good = len(lines) - len(bad)
    print(f"{good} recording{'' if good == 1 else 's'} summarised, {len(bad)} not used"
          + (f"; table in {out}" if out else ""), file=sys.stderr)
    _tell_pages(folder)
    return 0


def _tell_pages(folder: Path) -> None:
    """Tell the signed pages of the jobs in a folder by date, beside the table."""
    from bench.services.job_files import signed_pages
    from bench.wording.proof import signed_words

    for page in signed_pages(folder):
        print(signed_words(page.when, str(page.path.relative_to(folder)), page.state, page.by,
                           page.next_check, (page.proved, page.steps)), file=sys.stderr)


class _Bar:
    """A progress bar on a terminal; nothing into a pipe or a file."""

    WIDTH = 40

    def __init__(self, total: int) -> None:
        self.total = total
        self.live = sys.stderr.isatty()
        self.started = time.monotonic()

    def show(self, done: int, total: int) -> None:
        share = done / total
        if self.live:
            filled = round(self.WIDTH * share)
            left = (time.monotonic() - self.started) * (total - done) / done
            sys.stderr.write(f"\r[{'#' * filled}{'.' * (self.WIDTH - filled)}] {done}/{total}, "
                             f"{left:.0f} s left   ")
            sys.stderr.flush()

    def end(self) -> None:
        if self.live:
            sys.stderr.write("\r" + " " * (self.WIDTH + 40) + "\r")
