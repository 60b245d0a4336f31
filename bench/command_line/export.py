"""`stillpedal export FILE`: write the measurements for another program."""

import argparse
import sys
from pathlib import Path

from bench.command_line.plain_stream import show_place
from bench.wording.shell_quote import reader_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="FILE", help="a recording")
    parser.add_argument("--format", choices=("csv", "mdf"),
                        help="CSV, or ASAM MDF4 with the optional library asammdf "
                        "(default: by the ending of --out, else csv)")
    parser.add_argument("--out", metavar="PATH",
                        help="default: FILE-measurements.csv or .mf4 beside it")


def run(arguments: argparse.Namespace) -> int:
    """Write the measurements and say where they lie."""
    from bench.services.export import export_measurements

    out = Path(arguments.out) if arguments.out else None
    source = Path(arguments.file)
    made = export_measurements(source, arguments.format, out)
    show_place(made.path)
    print(f"next: {reader_of(made.purpose, source)}", file=sys.stderr)
    return 0
