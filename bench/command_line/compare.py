"""`stillpedal compare A B`: set two recordings side by side."""

import argparse
import sys
from pathlib import Path

from bench.command_line.parameter_options import add_parameters, parameters_from


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("before", metavar="BEFORE", help="the earlier recording")
    parser.add_argument("after", metavar="AFTER", help="the later recording of the same pedal")
    parser.add_argument("--json", action="store_true", help="JSON on stdout instead of text")
    parser.add_argument("--out", metavar="PATH", help="write to a file instead of the screen")
    parser.add_argument("--more", action="store_true",
                        help="every quantity and the reasons as well, not only one screen")
    parser.add_argument("--strict", action="store_true", help="exit with 1 when something got "
                        "worse, the earlier settings no longer hold, or it cannot be told")
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print what moved; 1 with --strict unless nothing got worse and the old settings hold."""
    from analysis.evidence.change import change_state
    from bench.services.compare import (
        brief_comparison,
        compare_files,
        comparison_json,
        comparison_text,
    )

    compared = compare_files(Path(arguments.before), Path(arguments.after),
                             parameters_from(arguments))
    # A file is for later, and holds it all.
    write = (comparison_json if arguments.json else comparison_text
             if arguments.more or arguments.out else brief_comparison)
    text = write(compared.comparison, arguments.before, arguments.after)
    if arguments.out:
        from bench.services.saving import write_output

        write_output(Path(arguments.out), text)
        print(f"comparison written to {arguments.out}", file=sys.stderr)
    else:
        sys.stdout.write(text)
    return 1 if arguments.strict and change_state(compared.comparison) != "sound" else 0
