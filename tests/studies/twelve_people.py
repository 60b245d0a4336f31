"""Twelve people sweep or log their pedal on a serial line, each with a trouble of their own.

    python tests/studies/twelve_people.py            all twelve, about two minutes
    python tests/studies/twelve_people.py late       one of them, with all that was printed
    python tests/studies/twelve_people.py --readme   write the example of README.md anew

The board, the pedal and the person are played here: a pseudo terminal, lines of text, a foot that
follows what the command prints. Nothing of the project makes a reading. Time runs SPEED times
faster than a clock on the wall; the board's own clock says so. Each person is led, by what is
printed and nothing else, to a command that runs, and no answer is longer than a screen.
"""

import argparse
import contextlib
import math
import os
import random
import re
import select
import shlex
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

SPEED = 15.0
SCREEN_LINES = 24
PROMPT = re.compile(r"^ *([0-9.]+) s  (leave|press|hold|let go|let)")


@dataclass
class Pedal:
    """Hold the pedal's place, 0 to 1, and where the foot wants it."""

    place: float = 0.0
    goal: float = 0.0
    speed: float = 0.9

    def move(self, seconds: float) -> None:
        step = self.speed * seconds
        self.place += max(-step, min(step, self.goal - self.place))


def volts_of(place: float, dice: random.Random) -> list[float]:
    """Return track a, track b and half the supply, in volts at the pins."""
    noise = dice.gauss
    # No two elements bend alike.
    first = place + 0.004 * math.sin(math.pi * place)
    second = place - 0.003 * math.sin(2.0 * math.pi * place)
    return [0.75 + 3.45 * first + noise(0, 0.0012), 0.76 + 3.44 * second + noise(0, 0.0012),
            2.5 + noise(0, 0.0006)]


@dataclass
class Line:
    """Print rows as some board does: the row's number, its time in ms, its volts -> bytes."""

    rate: float = 200.0
    head: bytes = b"# full_scale=4096 reference_volts=5.0 rate_hz=200 time=ms columns=a,b,supply\n"
    banner: bytes = b""
    row: Callable[[int, int, list[float]], bytes] = (
        lambda k, ms, v: b"%d,%s\n" % (ms, counts(v, 4096)))
    volts: Callable[[float, float, random.Random], list[float]] = (
        lambda place, now, dice: volts_of(place, dice))
    unplug_s: tuple[float, float] | None = None


def counts(volts: list[float], full: int) -> bytes:
    return b",".join(b"%d" % max(0, min(full - 1, int(v * full / 5.0))) for v in volts)


class Board(threading.Thread):
    """Serve lines on a pseudo terminal whose name stays; begin when first spoken to."""

    def __init__(self, folder: Path, line: Line, pedal: Pedal) -> None:
        super().__init__(daemon=True)
        self.port = folder / "ttyPEDAL"
        self.line, self.pedal = line, pedal
        self.now = 0.0
        self.before_row: Callable[[float], None] = lambda now: None
        self._over = threading.Event()
        self._plug()

    def _plug(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(slave))
        os.close(slave)
        os.set_blocking(self._master, False)

    def end(self) -> None:
        self._over.set()
        self.join(5.0)
        with contextlib.suppress(OSError):
            os.close(self._master)

    def _send(self, data: bytes) -> None:
        while data and not self._over.is_set():
            _, ready, _ = select.select([], [self._master], [], 0.2)
            if ready:
                try:
                    data = data[os.write(self._master, data):]
                except OSError:
                    time.sleep(0.02)

    def run(self) -> None:
        while not self._over.is_set():
            ready, _, _ = select.select([self._master], [], [], 0.1)
            try:
                if ready and os.read(self._master, 100):
                    break
            except OSError:
                time.sleep(0.02)
        dice = random.Random(5)
        begun, out, k = time.monotonic(), bytearray(self.line.banner), 0
        while not self._over.is_set():
            if k % int(self.line.rate) == 0:
                out += self.line.head
            self.now = k / self.line.rate
            self.before_row(self.now)
            self.pedal.move(1.0 / self.line.rate)
            out += self.line.row(k, int(1000 * self.now),
                                 self.line.volts(self.pedal.place, self.now, dice))
            k += 1
            if k % 8 == 0 or self.line.rate < 50:
                self._send(bytes(out))
                out.clear()
                ahead = self.now / SPEED - (time.monotonic() - begun)
                if ahead > 0:
                    time.sleep(ahead)
            if self.line.unplug_s and self.now >= self.line.unplug_s[0]:
                os.close(self._master)
                self.port.unlink(missing_ok=True)
                time.sleep((self.line.unplug_s[1] - self.line.unplug_s[0]) / SPEED)
                k += int((self.line.unplug_s[1] - self.line.unplug_s[0]) * self.line.rate)
                self.line.unplug_s = None
                self._plug()


@dataclass
class Person:
    """Hold how somebody answers the prompts of a sweep, and what is right for them in the end.

    act: (prompt word, number of the press, pedal) -> what is done, `late_s` afterwards.
    """

    line: Line = field(default_factory=Line)
    late_s: float = 0.2
    act: Callable[[str, int, Pedal], None] = lambda word, press, pedal: follow(word, pedal)
    options: list[str] = field(default_factory=list)
    said: str = ""
    findings: str = ""
    next: str = ""


def follow(word: str, pedal: Pedal, full: float = 1.0, rest: float = 0.0) -> None:
    """Do what is asked for: press, or let go."""
    if word == "press":
        pedal.goal, pedal.speed = full, 0.9
    elif word.startswith("let"):
        pedal.goal, pedal.speed = rest, 6.0 if word == "let go" else 0.9


@dataclass
class Outcome:
    """Hold what came of it: each command that was run, its status and what it printed."""

    runs: list[tuple[list[str], int, str, str]] = field(default_factory=list)

    @property
    def last_next(self) -> str:
        for _, _, out, err in reversed(self.runs):
            for line in reversed((err + out).splitlines()):
                if line.startswith("next: "):
                    return line.removeprefix("next: ")
        return ""

    @property
    def text(self) -> str:
        return "".join(err + out for _, _, out, err in self.runs)


def command(folder: Path, words: list[str]) -> subprocess.Popen[str]:
    place = str(Path(__file__).resolve().parents[2])
    return subprocess.Popen(
        [sys.executable, "-m", "bench", *words], cwd=folder, text=True, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": place, "STILLPEDAL_SETTINGS": str(folder / "settings"),
             "COLUMNS": "80"})


def run_plain(folder: Path, words: list[str], outcome: Outcome) -> tuple[int, str, str]:
    running = command(folder, words)
    out, err = running.communicate(timeout=120)
    outcome.runs.append((words, running.returncode, out, err))
    return running.returncode, out, err


def sweep(folder: Path, person: Person, outcome: Outcome, more: list[str]) -> int:
    """Run the sweep with this person at the pedal; return the status."""
    pedal = Pedal()
    board = Board(folder, person.line, pedal)
    waiting: list[tuple[float, str, int]] = []
    presses = 0

    def before_row(now: float) -> None:
        while waiting and waiting[0][0] <= now:
            _, word, press = waiting.pop(0)
            person.act(word, press, pedal)

    board.before_row = before_row
    board.start()
    words = ["sweep", "--board", "ttyPEDAL", "--yes", "--out", "sweep.csv", "--wait-s", "20",
             *person.options, *more]
    errors = []
    with command(folder, words) as running:
        assert running.stderr is not None
        assert running.stdout is not None
        for text in running.stderr:
            errors.append(text)
            found = PROMPT.match(text)
            if found:
                presses += found[2] == "press"
                waiting.append((board.now + person.late_s, found[2], presses))
        out = running.stdout.read()
        status = running.wait(60)
    board.end()
    outcome.runs.append((words, status, out, "".join(errors)))
    return status


def partial(word: str, press: int, pedal: Pedal) -> None:
    follow(word, pedal, full=0.6 if press in (4, 5) else 1.0)


def resting_foot(word: str, press: int, pedal: Pedal) -> None:
    follow(word, pedal, rest=0.12 if press in (2, 3) else 0.0)
    if word == "leave" and press in (2, 3):
        # It comes off when the command asks for it, four seconds later.
        threading.Timer(4.0 / SPEED, lambda: setattr(pedal, "goal", 0.0)).start()


def one_clip_off(place: float, now: float, dice: random.Random) -> list[float]:
    first, _, supply = volts_of(place, dice)
    return [first, 2.5 + dice.gauss(0, 0.001), supply]


HEAD_SUPPLY = ["--scale", "supply=2"]
SETTINGS = "stillpedal settings sweep.csv"
PEOPLE: dict[str, Person] = {
    "late": Person(late_s=1.3, options=HEAD_SUPPLY, findings="SOUND ON THE BENCH",
                   next=SETTINGS),
    "partial": Person(act=partial, options=HEAD_SUPPLY,
                      said="2 presses did not reach the stop: 2 more",
                      findings="SOUND ON THE BENCH", next=SETTINGS),
    "resting foot": Person(act=resting_foot, options=HEAD_SUPPLY,
                           said="take the foot right off it"),
    "wrong clip": Person(line=Line(volts=one_clip_off), options=HEAD_SUPPLY,
                         said="only one track moves",
                         next="stillpedal sweep --board ttyPEDAL --out sweep-2.csv"),
    "one track": Person(
        line=Line(head=b"# full_scale=4096 reference_volts=5.0 rate_hz=200 time=ms "
                       b"columns=a,supply\n",
                  row=lambda k, ms, v: b"%d,%s\n" % (ms, counts([v[0], v[2]], 4096))),
        options=HEAD_SUPPLY, findings="OPEN", next=SETTINGS),
    "plain numbers": Person(
        line=Line(head=b"", row=lambda k, ms, v: counts(v, 1024) + b"\n"),
        said="add --full-scale", options=["--columns", "a,b,supply", *HEAD_SUPPLY]),
    "volts": Person(
        line=Line(head=b"# rate_hz=200 time=ms columns=a,b,supply\n",
                  row=lambda k, ms, v: b"%d,%.3f,%.3f,%.3f\n" % (
                      ms, *(int(x * 1024 / 5) * 5 / 1024 for x in v))),
        options=HEAD_SUPPLY, findings="SOUND ON THE BENCH",
        next=SETTINGS),
    "clock column": Person(
        line=Line(head=b"", row=lambda k, ms, v: b"%d,%s\n" % (ms, counts(v, 1024))),
        options=["--full-scale", "1024", "--reference-volts", "5"], said="--clock ms"),
    "boot banner": Person(
        line=Line(banner=b"Booting...\r\nfirmware v1.2 built 2021\r\n*** ready ***\r\n"),
        options=HEAD_SUPPLY, findings="SOUND ON THE BENCH",
        next=SETTINGS),
    "slow board": Person(
        line=Line(rate=20.0, head=b"# full_scale=1024 reference_volts=5.0 rate_hz=20 time=ms "
                                  b"columns=a,b,supply\n",
                  row=lambda k, ms, v: b"%d,%s\n" % (ms, counts(v, 1024))),
        options=HEAD_SUPPLY, findings="OPEN"),
    "cable out": Person(line=Line(unplug_s=(40.0, 60.0)), options=HEAD_SUPPLY, said="CABLE"),
}


def play(name: str, folder: Path) -> tuple[Outcome, list[str]]:
    """Play one person; return what was run, and what was not as it should be."""
    person, outcome, wrong = PEOPLE[name], Outcome(), []
    status = sweep(folder, person, outcome, [])
    if name == "plain numbers" and status == 2:
        status = sweep(folder, person, outcome, ["--full-scale", "1024", "--reference-volts", "5"])
    if name == "clock column" and status == 2:
        status = sweep(folder, person, outcome, ["--clock", "ms"])
    if name == "wrong clip":
        if status != 2:
            wrong.append(f"a sweep of one track of two ended with {status}")
    elif status != 0:
        wrong.append(f"the sweep ended with {status}")
    if "Traceback" in outcome.text:
        wrong.append("a traceback was printed")
    if person.said and person.said not in outcome.text:
        wrong.append(f"{person.said!r} was not said")
    # From here on only what is printed is followed.
    if status == 0:
        for _ in range(2):
            words = shlex.split(outcome.last_next)
            if words[:1] != ["stillpedal"] or words[1] in ("sweep", "watch"):
                break
            code, out, _ = run_plain(folder, words[1:], outcome)
            if code != 0:
                wrong.append(f"{' '.join(words)} ended with {code}")
            if len(out.splitlines()) > SCREEN_LINES:
                wrong.append(f"{words[1]} printed {len(out.splitlines())} lines")
            if words[1] == "findings":
                if person.findings and person.findings not in out:
                    wrong.append(f"findings do not say {person.findings}")
                if person.next and person.next != outcome.last_next:
                    wrong.append(f"next is {outcome.last_next!r}, not {person.next!r}")
    if not outcome.last_next.startswith("stillpedal "):
        wrong.append("no next command stands at the end")
    if name == "wrong clip" and outcome.last_next != person.next:
        wrong.append(f"next is {outcome.last_next!r}, not {person.next!r}")
    return outcome, wrong


def key_fed(folder: Path) -> tuple[Outcome, list[str]]:
    """Log a car whose pedal supply comes with the key: nothing can be read before key-on."""
    outcome, wrong = Outcome(), []
    person = PEOPLE["late"]
    if sweep(folder, person, outcome, []) != 0:
        wrong.append("the sweep failed")

    def volts(_place: float, now: float, dice: random.Random) -> list[float]:
        on = now % 20.0 >= 6.0
        return [v if on else dice.gauss(0.004, 0.001) for v in volts_of(0.0, dice)]

    board = Board(folder, Line(volts=volts), Pedal())
    board.start()
    status, out, err = run_plain(folder, [
        "watch", "--board", "ttyPEDAL", "--yes", "--out", "key-on.csv", "--sweep", "sweep.csv",
        "--minutes", "1.6", *HEAD_SUPPLY], outcome)
    board.end()
    if status != 0:
        wrong.append(f"watch ended with {status}")
    if len(out.splitlines()) > SCREEN_LINES:
        wrong.append(f"watch printed {len(out.splitlines())} lines")
    if "Traceback" in err:
        wrong.append("a traceback was printed")
    if not math.isclose(sum(line.startswith("next: ") for line in out.splitlines()), 1):
        wrong.append("not one next command")
    return outcome, wrong


def worn(place: float, now: float, dice: random.Random) -> list[float]:
    """Track b turned 150 mV away and its contact lost at two fifths of the way down."""
    first, second, supply = volts_of(place, dice)
    lost = 0.405 < place < 0.425 and int(now * 10) % 3 == 0
    return [first, 0.0 if lost else second + 0.150, supply]


README = Path(__file__).resolve().parents[2] / "README.md"
# What stands before each of its two blocks, and the lines of the first that are shown.
SWEPT = "    stillpedal sweep --board PORT --out before.csv"
READ = "    stillpedal findings before.csv"
SHOWN = 4


def readme_blocks(folder: Path) -> tuple[str, str]:
    """Return what a sweep prints, in part, and what its findings say, whole."""
    outcome = Outcome()
    person = Person(line=Line(volts=worn), options=[*HEAD_SUPPLY, "--title", "track b off"])
    sweep(folder, person, outcome, [])
    (folder / "sweep.csv").rename(folder / "before.csv")
    prompts = [line for line in outcome.runs[0][3].splitlines() if PROMPT.match(line)]
    swept = [*prompts[1:1 + SHOWN], "   ...", prompts[-2],
             *(line.replace("sweep.csv", "before.csv").replace("ttyPEDAL", "PORT")
               for line in outcome.runs[0][3].splitlines()
               if line.startswith(("recorded ", "next: ")))]
    _, read, _ = run_plain(folder, ["findings", "before.csv"], outcome)
    return "\n".join(swept), read.rstrip("\n").replace("ttyPEDAL", "PORT")


def write_readme() -> None:
    """Put the blocks of a run of now into README.md."""
    with tempfile.TemporaryDirectory(prefix="readme-") as place:
        blocks = readme_blocks(Path(place))
    text = README.read_text(encoding="utf-8")
    for before, block in zip((SWEPT, READ), blocks, strict=True):
        head, tail = text.split(f"{before}\n\n```\n", 1)
        text = f"{head}{before}\n\n```\n{block}\n```{tail.split('```', 1)[1]}"
    README.write_text(text, encoding="utf-8")


def main() -> int:
    """Play them and print what was wrong; 1 when anything was."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("names", nargs="*", help="whom to play; nobody named: all")
    parser.add_argument("--readme", action="store_true", help="write README's example anew")
    asked = parser.parse_args()
    if asked.readme:
        write_readme()
        return 0
    names = asked.names or [*PEOPLE, "key-fed supply"]
    failed = 0
    for name in names:
        begun = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="person-") as place:
            outcome, wrong = (key_fed(Path(place)) if name == "key-fed supply"
                              else play(name, Path(place)))
        failed += bool(wrong)
        print(f"{name:<16} {'; '.join(wrong) or 'led to: ' + outcome.last_next}"
              f"   ({time.monotonic() - begun:.0f} s)", flush=True)
        if asked.names:
            for words, status, out, err in outcome.runs:
                print(f"$ stillpedal {' '.join(words)}   -> {status}\n{err}{out}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
