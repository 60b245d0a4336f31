"""`stillpedal prove [FOLDER]`: prove on the car that it behaves, and keep a page that says so."""

import argparse
import math
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line.board_options import (
    add_board_options,
    board_from,
    named_board,
    order_from,
    show_cautions,
)
from bench.command_line.parameter_options import add_parameters, parameters_from
from bench.command_line.progress import Progress
from bench.command_line.signals import stopped_by_signals
from bench.errors import BadCall
from bench.wording.shell_quote import pasted

if TYPE_CHECKING:
    from bench.services.proof import ProofGuide, ProofPrompt, Proofs, Recorder
    from bench.wording.limb import Limb

_TASKS = ("wires", "shake", "warm", "loads", "drive")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("folder", metavar="FOLDER", nargs="?", default=".", type=Path,
                        help="the job's folder (default: this one)")
    parser.add_argument("--do", choices=_TASKS, help="record this proof now, led by prompts")
    parser.add_argument("--add", action="append", default=[], metavar="FILE",
                        help="take a recording of this folder into the job (may be repeated)")
    parser.add_argument("--shown", action="append", default=[], metavar="TRACK.NAME=VALUE",
                        help="a value as your controller shows it, e.g. a.start_of_travel=0.82; "
                        "compared with what is issued")
    parser.add_argument("--shown-unit", choices=("volts", "percent", "counts"), default="volts",
                        help="the unit of --shown: volts, %% of supply, or counts (with --bits)")
    parser.add_argument("--bits", type=int, metavar="N",
                        help="counts of an N-bit input that reads the supply as full scale")
    parser.add_argument("--page", type=Path, metavar="PATH",
                        help="write the page to be signed (.pdf or .html)")
    parser.add_argument("--by", default="", metavar="NAME",
                        help="whose name stands on the page")
    parser.add_argument("--vehicle", default="",
                        help="which car, as it should be printed")
    parser.add_argument("--loads", metavar="A,B,...", help="the consumers to be switched (default: "
                        "contactor,fans,lights,brake light,wipers)")
    parser.add_argument("--power", metavar="COLUMN", help="the channel that shows power (default: "
                        "the first current or voltage channel)")
    parser.add_argument("--no-shorts", action="store_true",
                        help="open wires only; join none through a resistor")
    parser.add_argument("--more", action="store_true", help="every step of every proof as well")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when a proof failed, is not there, or was done on "
                        "a simulated board")
    add_board_options(parser)
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Do what is asked, then show where the job stands; 1 with --strict while it is not proved."""
    from bench.services.proof import add_file, limits_in, proofs_of

    folder = arguments.folder
    if not folder.is_dir():
        raise BadCall(f"there is no folder {folder}; make it, or name another")
    parameters = parameters_from(arguments)
    for name in arguments.add:
        steps = add_file(folder, _inside(folder, name), arguments.power)
        print(f"kept: {name} ({', '.join(steps)})", file=sys.stderr)
    if arguments.shown:
        _enter(arguments, limits_in(folder, parameters))
    if arguments.do:
        _record(arguments, limits_in(folder, parameters))
    proofs = proofs_of(folder, parameters)
    if arguments.page:
        from bench.services.proof import write_page

        where = write_page(proofs, arguments.page, arguments.by, arguments.vehicle)
        print(f"saved: {where}", file=sys.stderr)
        proofs = proofs_of(folder, parameters)
    if arguments.json:
        from bench.services.proof import proofs_json

        sys.stdout.write(proofs_json(proofs))
    else:
        from bench.services.proof import next_command, proofs_text, repair_of

        sys.stdout.write(proofs_text(proofs, arguments.more, next_command(
            proofs, arguments.board or ""), repair_of(proofs),
            f"stillpedal prove {pasted(arguments.folder)} --more"))
    return 1 if arguments.strict and not proofs.all_proved else 0


def _inside(folder: Path, name: str) -> Path:
    """Return a file as it is named from here, else from the folder."""
    path = Path(name)
    return path if path.exists() or path.is_absolute() else folder / path


def _enter(arguments: argparse.Namespace, proofs: "Proofs") -> None:
    """Keep what the controller shows, in volts and as typed."""
    from bench.services.proof import note_entered
    from bench.services.typed_values import shown_unit, volts_of_text

    if proofs.findings is None:
        raise BadCall("no sweep is in this job, so nothing was issued to compare with; take it in "
                      "with --add SWEEP.csv first")
    unit = shown_unit(arguments.shown_unit, arguments.bits,
                      proofs.findings.recording.nominal_volts)
    issued = {f"{s.channel}.{s.name}" for s in proofs.findings.settings if s.channel is not None}
    volts, typed = {}, {}
    for text in arguments.shown:
        name, _, value = text.partition("=")
        name, number = name.strip(), volts_of_text(value, unit)
        if not math.isfinite(number) or name not in issued:
            raise BadCall(f"--shown {text!r}; write TRACK.NAME=VALUE with one of "
                          f"{', '.join(sorted(issued))}")
        volts[name], typed[name] = number, value.strip()
    note_entered(arguments.folder, volts, typed, unit.step_volts)


def _record(arguments: argparse.Namespace, proofs: "Proofs") -> None:
    """Record one proof, led by prompts."""
    from bench.services.boards import SIMULATED
    from bench.services.proof import Asked, record_proof, shorts_of, simulated_car
    from bench.services.saving import free_path
    from bench.wording.cautions import CAR
    from bench.wording.limb import FOOT, limb_of
    from bench.wording.proof import cautions

    if proofs.limits is None:
        raise BadCall("a proof is judged by the limits of this pedal's sweep; take it in first: "
                      f"stillpedal prove {pasted(arguments.folder)} --add SWEEP.csv")
    loads = (tuple(w.strip() for w in arguments.loads.split(",") if w.strip())
             if arguments.loads else None)
    asked = Asked(arguments.do, tuple(proofs.limits.tracks), **({"loads": loads} if loads else {}),
                  shorts=() if arguments.no_shorts else shorts_of(proofs), power=arguments.power)
    simulated = None
    if named_board(arguments) == SIMULATED:
        simulated = simulated_car(asked, proofs.limits, None if arguments.fast else 1.0)
    if arguments.out is None:
        arguments.out = free_path(arguments.folder / f"{arguments.do}.csv")
    elif arguments.out.resolve().parent != arguments.folder.resolve():
        raise BadCall(f"--out {arguments.out} does not lie in the job's folder "
                      f"{arguments.folder}; a proof is kept where its job is")
    order = order_from(arguments, "proof", 60.0)
    board = board_from(arguments, simulated)
    order.place()
    if board.needs_care and not arguments.yes and not (
            sys.stdin is not None and sys.stdin.isatty()):
        raise BadCall("nobody is here to confirm the cautions of this proof; read them in "
                      "docs/proof.md and add --yes")
    of = FOOT if proofs.findings is None else limb_of(proofs.findings.recording.pedal.use)
    show_cautions(board, (*CAR, *cautions(arguments.do, of)), arguments.yes)
    progress = _ProofProgress(of)

    def until(recorder: "Recorder", guide: "ProofGuide") -> None:
        progress.proof = guide
        if sys.stdin is not None and simulated is None:
            threading.Thread(target=_listen, args=(guide,), name="keys", daemon=True).start()

    with stopped_by_signals():
        recorded = record_proof(board, order, asked, progress.prompted, (progress,), until)
    print(f"recorded {recorded.rows} rows, {recorded.seconds:.1f} s: {recorded.path}",
          file=sys.stderr)


def _listen(guide: "ProofGuide") -> None:
    """Hand typed lines on until there are no more."""
    for line in sys.stdin:
        guide.enter(line.strip())


class _ProofProgress(Progress):
    """Show each prompt on a line of its own, and what is left of it."""

    plain_every_s = 30.0

    def __init__(self, of: "Limb") -> None:
        super().__init__()
        self._limb = of
        self.proof: ProofGuide | None = None

    def prompted(self, prompt: "ProofPrompt") -> None:
        """Show a prompt; the guide calls this."""
        from bench.wording.proof import prompt_words

        words = prompt_words(prompt.code, prompt.leads, prompt.place, prompt.ohms, of=self._limb)
        self.say(f"{self._time_s:6.1f} s  {words}")

    def _line(self) -> str:
        left = None if self.proof is None else self.proof.left_s
        wait = "Enter goes on" if left is None else f"{left:3.0f} s left"
        return f"{self._time_s:7.1f} s  {wait}{self._numbers()}"

