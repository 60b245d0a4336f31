"""`stillpedal meter`: check any other sender against a meter."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line.board_options import (
    OF_THE_CHANNELS,
    add_channel_options,
    add_clock_option,
    add_port_options,
    refuse_beside_a_file,
)
from bench.command_line.old_names import accept_too
from bench.errors import BadCall
from bench.wording.face import listed
from bench.wording.next_step import free_name
from bench.wording.reasons import in_words
from bench.wording.senders.examples import EXAMPLES, NO_SOURCE
from bench.wording.shell_quote import pasted

if TYPE_CHECKING:
    from bench.services.sender_check import MeterResult, SenderCheckOptions
    from bench.services.sender_seen import Seen

KINDS = ("divider", "isolated", "shunt", "hall", "thermistor", "platinum", "rheostat", "gauge",
         "proximity", "pilot", "speed", "volts", "loop", "other")
# As many as a screen takes beside the notes.
_SEEN_ROWS = 12
_HELP = """while points are taken, type what the meter shows and press Enter;
  Enter alone  says whether the channel is steady
  undo         takes the last point back
  wait 5       waits 5 seconds, for scripts
  done         ends (so does Ctrl-D)"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = _HELP
    where = parser.add_argument_group("where the points come from")
    where.add_argument("--board", metavar="NAME", help="a board to read: simulated, or a port")
    where.add_argument("--from", dest="points", metavar="FILE",
                       help="a CSV of points (reading,meter), or a recording with marks "
                            "'meter VALUE'; pilot and speed: any recording")
    where.add_argument("--channel", default="", metavar="NAME",
                       help="which channel, and the name it is stored under")
    where.add_argument("--seconds", type=float, default=2.0, metavar="S",
                       help="averaged for each point (default 2)")
    where.add_argument("--yes", action="store_true", help="I have read the cautions and meet them")
    board = parser.add_argument_group("the board")
    add_port_options(board)
    add_clock_option(board)
    add_channel_options(parser)
    sender = parser.add_argument_group("the sender")
    sender.add_argument("--kind", choices=KINDS, default="other", help="default: other")
    sender.add_argument("--set", dest="settings", action="append", default=[],
                        metavar="NAME=VALUE", help="a stated value, such as top_ohms=100k")
    sender.add_argument("--explain", action="store_true",
                        help="show the kind's equation, wiring and stated values, and stop")
    sender.add_argument("--pin-limit", type=float, metavar="V",
                        help="most that the board's input may get (default 5)")
    sender.add_argument("--quantity-unit", dest="unit", default="", metavar="UNIT",
                        help="if the kind leaves it open, such as bar")
    accept_too(sender, "--unit", "unit")
    meter = parser.add_argument_group("the meter")
    meter.add_argument("--meter-spec", default="", metavar="TEXT",
                       help="from its leaflet, such as \"0.5%% + 2 digits\"")
    meter.add_argument("--resolution", type=float, default=0.0, metavar="N",
                       help="one step of its last place (default: from the values typed)")
    meter.add_argument("--meter-name", default="", metavar="TEXT", help="what you call it")
    judge = parser.add_argument_group("what is asked")
    judge.add_argument("--tolerance", metavar="N",
                       help="allowed deviation: 0.5 in the unit, or 2%% of the span")
    judge.add_argument("--low", type=float, metavar="N", help="low end of the range wanted")
    judge.add_argument("--high", type=float, metavar="N", help="high end of the range wanted")
    judge.add_argument("--leave-out", type=int, action="append", default=[], metavar="N",
                       help="point N (from 1) does not count")
    judge.add_argument("--keep-point", type=int, action="append", default=[], metavar="N",
                       help="point N was looked at again and is right")
    judge.add_argument("--strict", action="store_true",
                       help="exit with 1 when a verdict is fail, stays open, or none was asked for")
    out = parser.add_argument_group("what becomes of it")
    out.add_argument("--out", metavar="PATH",
                     help="write the calibration: .html or .pdf (page), .json or .csv by ending")
    out.add_argument("--keep", metavar="PATH", default="meter.csv",
                     help="the recording of a guided check (default meter.csv; never over a file)")
    out.add_argument("--store", metavar="FOLDER",
                     help="keep the calibration here by name and date, and compare with the last "
                          "(guided: calibrations)")
    out.add_argument("--no-store", action="store_true", help="do not keep it")
    out.add_argument("--note", default="", metavar="TEXT", help="kept with the calibration")
    out.add_argument("--json", action="store_true", help="JSON on stdout")
    out.add_argument("--more", action="store_true",
                     help="every point, on a screen too")
    later = parser.add_argument_group("later")
    later.add_argument("--history", action="store_true",
                       help="list the channel's calibrations in --store, and what moved")
    later.add_argument("--apply", metavar="RECORDING",
                       help="turn the channel of a recording into its quantity (--out x.csv)")
    later.add_argument("--calibration", metavar="FILE",
                       help="with --apply: this one instead of the last before the recording")


def run(arguments: argparse.Namespace) -> int:
    """Calibrate, list or apply; 1 with --strict when a verdict is fail or stays open."""
    if arguments.explain:
        return _explain(arguments)
    if arguments.history or arguments.apply:
        from bench.command_line.meter_later import run_later

        return run_later(arguments)
    if arguments.board and arguments.points:
        raise BadCall("give either --board NAME to take points now, or --from FILE")
    if arguments.points:
        refuse_beside_a_file(arguments, "the file itself", OF_THE_CHANNELS)
    if not (arguments.board or arguments.points or arguments.settings):
        raise BadCall(NO_SOURCE)
    options = _options(arguments)
    if not arguments.board:
        from bench.services.sender_seen import seen_in, seen_typed

        seen = seen_in(arguments.points, options) if arguments.points else seen_typed(options)
        if seen is not None:
            return _say_seen(arguments, options, seen)
        if not arguments.points:
            raise BadCall(NO_SOURCE)
    if arguments.out:
        from bench.services.saving import refuse_existing

        # Better now than after a quarter of an hour at the meter.
        _ending(Path(arguments.out))
        refuse_existing(Path(arguments.out))
    _say_cautions(options, arguments)
    if arguments.points:
        from bench.services.sender_check import calibrate_taken, take_points

        folder = None if arguments.no_store else arguments.store
        result = calibrate_taken(take_points(arguments.points, options), options, folder)
    else:
        from bench.command_line.meter_guided import take_guided

        folder = None if arguments.no_store else arguments.store or "calibrations"
        result = take_guided(arguments, options, folder)
    return _finish(arguments, result, folder)


def _say_seen(arguments: argparse.Namespace, options: "SenderCheckOptions", seen: "Seen") -> int:
    """Say what was seen without a meter; 1 with --strict when something is wrong or open."""
    if arguments.out or arguments.store:
        raise BadCall("--out and --store keep a calibration; without a meter's values there is "
                      "none: leave them out, or mark the recording with 'meter VALUE'")
    from bench.wording.senders import title

    _say_cautions(options, arguments)
    if arguments.json:
        from bench.services.sender_seen import seen_json

        sys.stdout.write(seen_json(seen))
    else:
        shown = seen.found if arguments.more or len(seen.found) <= _SEEN_ROWS else \
            seen.found[:_SEEN_ROWS]
        name = f"Channel {seen.channel}: " if seen.channel else ""
        print(f"{name}{title(seen.sender.kind)}")
        for d in shown:
            print(f"  {'!! ' if d.wrong else ''}{in_words(d.reason)}")
        if len(shown) < len(seen.found):
            print(f"  {len(seen.found) - len(shown)} more stretches; --more has each")
        for note in seen.notes:
            print(f"  note: {in_words(note)}")
    return 1 if arguments.strict and any(d.wrong for d in seen.found) else 0


def _options(arguments: argparse.Namespace) -> "SenderCheckOptions":
    from analysis.senders import KINDS as SENDERS
    from bench.services.sender_check import SenderCheckOptions
    from bench.services.sender_stated import sender_from
    from bench.services.typed_numbers import number_with_multiple

    stated = {words.partition("=")[0].strip() for words in arguments.settings}
    missing = [n for n in SENDERS[arguments.kind].must_state if n not in stated]
    if missing:
        raise BadCall(f"a {arguments.kind} needs {listed(missing)}; add them with your own "
                      "values, such as "
                      + " ".join(f"--set {name}={EXAMPLES[name]}" for name in missing))
    limit = arguments.pin_limit if arguments.pin_limit is not None else arguments.reference_volts
    text = (arguments.tolerance or "").strip()
    return SenderCheckOptions(
        sender_from(arguments.kind, arguments.settings, limit), arguments.meter_spec,
        arguments.resolution, arguments.meter_name, arguments.channel, arguments.low,
        arguments.high,
        number_with_multiple(text.removesuffix("%").strip(), "--tolerance") if text else None,
        text.endswith("%"), arguments.seconds, arguments.unit, arguments.full_scale,
        arguments.reference_volts, arguments.note, limit is not None,
        tuple(arguments.leave_out), tuple(arguments.keep_point))


def _say_cautions(options: "SenderCheckOptions", arguments: argparse.Namespace) -> None:
    """Show the cautions before anything is wired or typed."""
    from bench.wording.senders import caution_lines, title, wiring

    sender = options.sender
    if arguments.points or not arguments.board:
        for caution in caution_lines(sender.cautions()):
            print(f"CAUTION: {caution}", file=sys.stderr)
    else:
        if arguments.board == "simulated":
            for caution in caution_lines(sender.cautions()):
                print(f"CAUTION (with a real board): {caution}", file=sys.stderr)
        print(f"{title(sender.kind)}: {wiring(sender.kind)}", file=sys.stderr)
        for note in sender.notes():
            print(f"note: {in_words(note)}", file=sys.stderr)


def _finish(arguments: argparse.Namespace, result: "MeterResult", folder: str | None) -> int:
    from bench.services.sender_check import calibration_json

    if folder is not None:
        from bench.services.sender_check import keep

        print(f"kept in {keep(folder, result)}", file=sys.stderr)
    if arguments.out:
        print(f"written: {_write(Path(arguments.out), result)}", file=sys.stderr)
    if arguments.json:
        for note in result.notes:
            print(f"note: {in_words(note)}", file=sys.stderr)
        sys.stdout.write(calibration_json(result))
    else:
        from bench.services.sender_check import calibration_text

        # A pipe and a file get all the points; a screen has no room for them beside the verdict.
        sys.stdout.write(calibration_text(
            result, points=arguments.more or not sys.stdout.isatty()))
        if arguments.points:
            _say_next(arguments, result)
    return 1 if arguments.strict and not _passed(result) else 0


def _say_next(arguments: argparse.Namespace, result: "MeterResult") -> None:
    """Say which command goes on from points of a file: what it lacks, else the page."""
    words = " ".join(pasted(word) for word in arguments.words)
    if not arguments.meter_spec:
        add, why = '--meter-spec "0.5% + 2 digits"', "with the limits on your meter's leaflet"
    elif not arguments.tolerance:
        add, why = "--tolerance 2%", "with the deviation that you allow, in the unit or in %"
    elif not arguments.out:
        page = free_name(Path(arguments.points).with_suffix(".html"), result.stored.channel)
        add, why = f"--out {pasted(page)}", "the page for the car's folder"
    else:
        return
    print(f"next: stillpedal {words} {add}\n      {why}", file=sys.stderr)


def _passed(result: "MeterResult") -> bool:
    """Return whether nothing failed and nothing was left open: open is never taken for good."""
    from analysis.senders.calibration import PASS
    from bench.services.sender_check_asked import WRONG_POINT

    return bool(result.verdicts) and all(v.result == PASS for v in result.verdicts) and not any(
        d.name == WRONG_POINT for d in result.diagnoses)


def _write(path: Path, result: "MeterResult") -> Path:
    from bench.services.report import write_calibration

    return write_calibration(path, result)


def _ending(path: Path) -> str:
    from bench.services.report import CALIBRATION_ENDINGS

    ending = path.suffix.lower()
    if ending not in CALIBRATION_ENDINGS:
        raise BadCall(f"--out {path}: end the name in .html, .pdf, .json or .csv")
    return ending


def _explain(arguments: argparse.Namespace) -> int:
    import dataclasses

    from analysis.senders import KINDS as SENDERS
    from analysis.senders import stated_names
    from bench.wording.senders import caution_lines, equation, title, wiring

    sender = SENDERS[arguments.kind]
    usual = {f.name: f.default for f in dataclasses.fields(sender)}
    print(f"{arguments.kind}: {title(arguments.kind)}")
    print(f"  equation  {equation(arguments.kind)}")
    print(f"  wiring    {wiring(arguments.kind)}")
    for caution in caution_lines(sender.always):
        print(f"  CAUTION   {caution}")
    print("  first     read \"Before you wire anything\" in docs/senders.md: more than 60 V DC is "
          "not safe to touch, and a pack is read through an isolated converter only")
    print("  stated values (--set NAME=VALUE):")
    for name in stated_names(arguments.kind):
        print(f"    {name:18s} "
              + ("must be stated" if name in sender.must_state else _usual(usual[name])))
    return 0


def _usual(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value == 0.0:
        return "0 unless stated"
    return "none" if value in ((), "") else f"{value:g}" if isinstance(value, float) else str(value)
