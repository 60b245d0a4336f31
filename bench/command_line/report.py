"""`stillpedal report FILE`: write the page for the car's folder."""

import argparse
import sys
from pathlib import Path

from bench.command_line.key_on_options import add_in_car, check_in_car
from bench.command_line.parameter_options import add_parameters, parameters_from
from bench.command_line.plain_stream import show_place
from bench.wording.shell_quote import reader_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="FILE", help="a recorded sweep")
    parser.add_argument("after", metavar="AFTER", nargs="?",
                        help="a later sweep of the same pedal: a report on what changed")
    parser.add_argument("--out", metavar="PATH",
                        help=".pdf or .html (default: FILE-report.pdf beside it)")
    parser.add_argument("--vehicle", default="", help="which car, as it should be printed")
    parser.add_argument("--by", default="", metavar="NAME", help="whose name stands on the page")
    parser.add_argument("--remark", default="", metavar="TEXT", help="one remark")
    parser.add_argument("--paper", default="a4", choices=("a4", "letter"),
                        help="of the PDF (default a4)")
    add_in_car(parser)
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the report and say where it lies."""
    from bench.services.report import ReportOptions, write_report

    check_in_car(arguments)
    source = Path(arguments.after or arguments.file)
    before = Path(arguments.file) if arguments.after else None
    out = Path(arguments.out) if arguments.out else source.with_name(f"{source.stem}-report.pdf")
    show_place(write_report(source, out, parameters_from(arguments), ReportOptions(
        before, None if arguments.key_on is None else Path(arguments.key_on),
        arguments.contactor, arguments.by, arguments.vehicle, arguments.remark,
        arguments.paper, warm=None if arguments.warm is None else Path(arguments.warm))))
    print(f"next: {reader_of('sweep', source)}", file=sys.stderr)
    return 0
