"""What `stillpedal meter` does with calibrations that were stored: list them, apply them."""

import argparse
import json
import sys
from pathlib import Path

from bench.errors import BadCall

_DEFAULT_FOLDER = "calibrations"


def run_later(arguments: argparse.Namespace) -> int:
    """List the calibrations of a channel, or apply one to a recording."""
    if arguments.history and arguments.apply:
        raise BadCall("--history and --apply are two things; ask for one at a time")
    return _history(arguments) if arguments.history else _apply(arguments)


def _history(arguments: argparse.Namespace) -> int:
    from bench.services.sender_check_apply import equation_text, kept_calibrations
    from bench.wording.senders.verdict import change_line

    if not arguments.channel:
        raise BadCall("--history needs --channel NAME, the channel whose calibrations to list")
    rows = []
    for kept in kept_calibrations(arguments.store or _DEFAULT_FOLDER, arguments.channel):
        found, change = kept.stored.calibration, kept.change
        rows.append({
            "date": kept.stored.date, "path": str(kept.stored.path), "form": found.curve.form,
            "equation": equation_text(found), "meter": found.meter.name,
            "change": None if change is None else {
                "difference": change.difference, "half_width": change.half_width,
                "real": change.real, "text": change_line(change)}})
    if arguments.json:
        json.dump({"schema": 1, "channel": arguments.channel, "calibrations": rows}, sys.stdout,
                  indent=1, ensure_ascii=False)
        print()
        return 0
    for row in rows:
        print(f"{row['date']}  {row['equation']}")
        print(f"    {row['path']}")
        moved = row["change"]
        if isinstance(moved, dict):
            print(f"    {moved['text']}")
    return 0


def _apply(arguments: argparse.Namespace) -> int:
    from bench.services.saving import refuse_existing, write_output
    from bench.services.sender_check_apply import applied_csv, apply_to_file

    if arguments.out:
        refuse_existing(Path(arguments.out))
    applied = apply_to_file(
        arguments.apply, arguments.channel, arguments.store or _DEFAULT_FOLDER,
        arguments.calibration)
    for note in applied.notes:
        print(f"note: {note}", file=sys.stderr)
    if arguments.out:
        write_output(Path(arguments.out), applied_csv(applied))
        print(f"written: {arguments.out}", file=sys.stderr)
    summary = {
        "schema": 1, "channel": applied.stored.channel, "calibration": applied.stored.date,
        "unit": applied.stored.calibration.unit, "rows": int(applied.value.size),
        "lowest": applied.lowest, "highest": applied.highest,
        "outside_percent": 100.0 * applied.outside}
    if arguments.json:
        json.dump(summary, sys.stdout, indent=1, ensure_ascii=False)
        print()
    else:
        print(f"{summary['channel']} by the calibration of {summary['calibration']}: "
              f"{applied.lowest:.5g} to {applied.highest:.5g} {summary['unit']} in "
              f"{summary['rows']} rows")
    return 0
