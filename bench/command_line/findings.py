"""`stillpedal findings FILE`: say what a recorded sweep shows."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line.key_on_options import add_in_car, findings_from, log_words
from bench.command_line.parameter_options import add_parameters
from bench.services.findings import brief_findings, findings_text
from bench.wording.sweep import sentences

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="FILE", help="a recorded sweep")
    parser.add_argument("--json", action="store_true", help="JSON on stdout instead of text")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when a claim is contradicted or left open: something "
                        "must be repaired, or was not seen")
    parser.add_argument("--more", action="store_true",
                        help="the reasons and tables as well, not only one screen")
    parser.add_argument("--out", metavar="PATH",
                        help="write to a file instead of the screen, the whole page (.json: JSON)")
    add_in_car(parser)
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the findings; 1 with --strict when a limit is failed."""
    from bench.services.findings import fails_a_limit

    out = Path(arguments.out) if arguments.out else None
    if out is not None:
        from bench.services.saving import refuse_existing

        refuse_existing(out)
    findings = findings_from(arguments, Path(arguments.file))
    if out is not None:
        from bench.services.saving import write_output

        write_output(out, _whole(findings, arguments.json or out.suffix.lower() == ".json",
                                 Path(arguments.file).name))
        print(f"saved: {out}", file=sys.stderr)
    elif arguments.json:
        from bench.services.findings import findings_json

        for note in sentences(findings.notes):
            print(f"note: {note}", file=sys.stderr)
        sys.stdout.write(findings_json(findings))
    else:
        sys.stdout.write(findings_text(findings, Path(arguments.file).name)
                         if arguments.more else
                         brief_findings(findings, Path(arguments.file), log_words(arguments)))
    return 1 if arguments.strict and fails_a_limit(findings) else 0


def _whole(findings: "Findings", as_json: bool, name: str) -> str:
    from bench.services.findings import findings_json

    return findings_json(findings) if as_json else findings_text(findings, name)
