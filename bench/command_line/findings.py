"""`stillpedal findings FILE`: say what a recorded sweep shows."""

import argparse
import sys
from pathlib import Path

from bench.command_line.parameter_options import add_parameters, parameters_from
from bench.files.exports.brief import brief_findings
from bench.files.exports.findings_text import findings_text


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="FILE", help="a recorded sweep")
    parser.add_argument("--json", action="store_true", help="JSON on stdout instead of text")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when a claim is contradicted or left open: something "
                        "must be repaired, or was not seen")
    parser.add_argument("--more", action="store_true",
                        help="the reasons and tables as well, not only one screen")
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the findings; 1 with --strict when a limit is failed."""
    from bench.services.findings import fails_a_limit, open_findings

    findings = open_findings(arguments.file, parameters_from(arguments))
    if arguments.json:
        from bench.files.exports.findings_json import findings_json

        for note in findings.notes:
            print(f"note: {note}", file=sys.stderr)
        sys.stdout.write(findings_json(findings))
    else:
        sys.stdout.write(findings_text(findings) if arguments.more else
                         brief_findings(findings, Path(arguments.file)))
    return 1 if arguments.strict and fails_a_limit(findings) else 0
