"""`stillpedal import LOG`: turn a log of other origin into a recording."""

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line.old_names import accept_too
from bench.command_line.pedal_options import add_kind, rheostat_from
from bench.wording.shell_quote import pasted, reader_of

if TYPE_CHECKING:
    from bench.services.import_log import ImportPreview

# Lines shown of what stands above a table: the table itself must stay on the screen.
MOST_ABOVE = 4
ROLES = {
    "a": "first track", "b": "second track", "supply": "the pedal's supply",
    "key": "key line", "brake": "brake line",
    "switch": "idle switch on the pedal",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="LOG", nargs="+",
                        help="a table of an oscilloscope, a data logger or your own script; "
                        "several files of one log are joined by their times")
    parser.add_argument("--out", metavar="PATH",
                        help="the recording (default: LOG-recording.csv beside it)")
    parser.add_argument("--preview", action="store_true",
                        help="show what was found; write nothing")
    parser.add_argument("--json", action="store_true", help="say what was found as JSON on stdout")
    columns = parser.add_argument_group("columns, by name or by number from 1")
    columns.add_argument("--time", metavar="COLUMN", help="times (found when it is plain)")
    for role, text in ROLES.items():
        columns.add_argument(f"--{role}", metavar="COLUMN", help=text)
    columns.add_argument("--mark", metavar="COLUMN", help="texts that become marks")
    units = parser.add_argument_group("units")
    units.add_argument("--supply-volts", type=float, metavar="V", help="nominal supply")
    units.add_argument("--rate", type=float, metavar="HZ",
                       help="rows a second, for a log without (usable) times")
    units.add_argument("--time-unit", metavar="UNIT", help="s, ms, us, min, h or days")
    units.add_argument("--readings-in", dest="unit", metavar="UNIT",
                       help="V, mV or counts")
    accept_too(units, "--unit", "unit")
    units.add_argument("--full-scale", type=float, metavar="N",
                       help="counts at the reference, 1024 for 10 bits")
    units.add_argument("--reference-volts", type=float, metavar="V", help="of the converter")
    units.add_argument("--step-volts", type=float, metavar="V",
                       help="one converter step at the pin, of a board that prints volts "
                       "(estimated when they lie on a grid)")
    units.add_argument("--behind-divider", dest="scale", type=float, default=1.0, metavar="N",
                       help="volts at the sensor per volt in the log, 2 behind a 1:2 divider")
    accept_too(units, "--scale", "scale", type=float)
    shape = parser.add_argument_group("the file, where it is not found by itself")
    shape.add_argument("--delimiter", metavar="SIGN", help=", ; | tab or spaces")
    shape.add_argument("--decimal", metavar="SIGN", help="decimal sign, . or ,")
    shape.add_argument("--encoding", metavar="NAME", help="for example utf-8, utf-16, latin-1")
    add_kind(parser.add_argument_group("the pedal"))
    parser.add_argument("--title", default="", help="of the recording (default: the log's name)")


def run(arguments: argparse.Namespace) -> int:
    """Write the recording and say what was assumed."""
    from bench.services.import_log import ImportOptions, import_file, preview

    options = ImportOptions(
        columns={role: name for role in ROLES if (name := getattr(arguments, role)) is not None},
        time=arguments.time, mark=arguments.mark, supply_volts=arguments.supply_volts,
        rate_hz=arguments.rate, time_unit=arguments.time_unit, unit=arguments.unit,
        full_scale=arguments.full_scale, reference_volts=arguments.reference_volts,
        step_volts=arguments.step_volts, scale=arguments.scale, delimiter=arguments.delimiter,
        decimal=arguments.decimal, encoding=arguments.encoding, title=arguments.title,
        pedal_kind=arguments.pedal_kind, pedal_use=arguments.pedal_use,
        rheostat=rheostat_from(arguments),
        more=tuple(Path(name) for name in arguments.file[1:]))
    log = Path(arguments.file[0])
    if arguments.preview:
        seen = preview(log, options)
        _show(seen, arguments.json)
        if not seen.question:
            words = " ".join(pasted(word) for word in arguments.words if word != "--preview")
            print(f"next: stillpedal {words}", file=sys.stderr)
        return 0
    made = import_file(log, options, Path(arguments.out) if arguments.out else None)
    recording = made.recording
    for note in made.notes:
        print(f"note: {note}", file=sys.stderr)
    if arguments.json:
        print(json.dumps({
            "schema": 1, "out": str(made.path), "rows": recording.rows,
            "rate_hz": recording.rate_hz, "lost_samples": recording.lost_samples,
            "channels": [{"column": c.column, "role": c.role, "unit": c.unit}
                         for c in recording.channels],
            "notes": list(made.notes), "understood": made.understood,
            "not_understood": made.not_understood}, indent=1))
    else:
        seconds = recording.time_s[-1] - recording.time_s[0]
        print(f"{made.path}: {recording.rows} rows, {seconds:.3f} s, channels "
              f"{', '.join(c.column for c in recording.channels)}")
        print(made.understood)
        print(made.not_understood)
    print(f"next: {reader_of(recording.purpose, made.path)}", file=sys.stderr)
    return 0


def _show(seen: "ImportPreview", as_json: bool) -> None:
    # What is worded for the window stays there.
    found = {name: value for name, value in asdict(seen).items()
             if name not in ("time_place", "places", "asked", "said")}
    if as_json:
        print(json.dumps({"schema": 1, **found}, indent=1))
        return
    shown = {"\t": "tab"}.get(found["delimiter"], found["delimiter"])
    print(f"{found['row_count']} rows; encoding {found['encoding']}, delimiter {shown}, decimal "
          f"sign {found['decimal']}")
    for line in found["preamble"][:MOST_ABOVE]:
        print(f"above the table: {line[:60]}")
    if len(found["preamble"]) > MOST_ABOVE:
        print(f"above the table: {len(found['preamble']) - MOST_ABOVE} more lines")
    cells = [found["names"], *found["rows"][:6]]
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    for row in cells:
        print("  " + "  ".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)))
    if found["time"] or found["roles"]:
        parts = [f"time = {found['time']} ({found['time_unit']})"] * bool(found["time"])
        parts += [f"{role} = {name} ({found['units_taken'][role]})"
                  for role, name in found["roles"].items()]
        print("taken as: " + ", ".join(parts))
    for note in found["notes"]:
        print(f"note: {note}")
    if found["question"]:
        print(f"to be said: {found['question']}")
    else:
        print(found["understood"])
        print(found["not_understood"])
