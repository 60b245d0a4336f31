"""Open files made to do harm: each may do nothing but work, or fail with one plain line.

    python tests/stress/malicious_files.py           some 400 calls, a minute
    python tests/stress/malicious_files.py --quick   one in 20 recordings, one in 5 of others

Watched by an audit hook while each file is open: no program started, no connection made, no code
compiled or run from data, no file written but where it was told. Every word that reaches the
terminal is printable, so no file can move the cursor, hide text or turn its direction.
"""

import contextlib
import io
import json
import os
import re
import resource
import sys
import tempfile
import time
import traceback
import warnings
import zlib
from collections.abc import Iterator
from pathlib import Path

from bench.command_line import main as stillpedal

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, peak_megabytes, run

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
ESCAPE = "\x1b[2J\x1b]0;owned\x07"
BIDI = "\u202e\u2066"
CODE = "__import__('os').system('touch owned')"
MOST_SECONDS = 20.0
LONGEST_WORD = 2000
PROGRAMS = ("os.system", "subprocess.Popen", "os.exec", "os.posix_spawn", "os.fork")
NETWORK = ("socket.connect", "socket.bind", "socket.getaddrinfo", "urllib.Request")
# What the helpers of `trend` hand to each other.
OURS = ("concurrent.futures", "bench.", "analysis.", "numpy")


class Watch:
    """Hear what the interpreter does while a case runs."""

    def __init__(self) -> None:
        self.on = False
        self.seen: list[str] = []
        self.folder = ""
        sys.addaudithook(self._hear)

    def _hear(self, event: str, arguments: tuple[object, ...]) -> None:
        if not self.on:
            return
        if event in PROGRAMS or event in NETWORK or (
                event == "pickle.find_class" and not str(arguments[0]).startswith(OURS)):
            self.seen.append(f"{event} {str(arguments)[:80]}")
        elif event == "exec":
            place = getattr(arguments[0], "co_filename", "")
            if not place.endswith(".py") and "frozen" not in place and place != "<string>":
                self.seen.append(f"exec {place}")
        elif event == "open" and isinstance(arguments[0], str):
            mode, flags = arguments[1], arguments[2]
            writes = any(c in str(mode or "") for c in "wax+") or (
                isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR))
            place = os.path.realpath(arguments[0])
            # The interpreter keeps what it compiled of our own modules.
            if writes and not place.startswith((self.folder, "/dev/")) \
                    and "__pycache__" not in place:
                self.seen.append(f"wrote {place}")


def sealed(header: str, table: str) -> bytes:
    """Return a recording whose check sum is right, whatever it says."""
    body = table.encode("utf-8", "surrogatepass")
    head = "".join(f"# {line}\n" for line in header.splitlines()).encode("utf-8", "surrogatepass")
    return head + body + (f"# end rows={table.count(chr(10)) - 1} "
                          f"crc32={zlib.crc32(body):08X}\n").encode()


def recordings() -> Iterator[tuple[str, bytes]]:
    """Yield recordings with poison in them."""
    whole = (SAMPLES / "synthetic_healthy_pair.csv").read_text()
    lines = whole.splitlines()
    header = "\n".join(line[2:] for line in lines if line.startswith("# ") and "# end" not in line)
    table = "".join(line + "\n" for line in lines if not line.startswith("#"))

    def told(old: str, new: str) -> bytes:
        changed = re.sub(old, lambda _: new, header, count=1, flags=re.MULTILINE)
        assert changed != header, old
        return sealed(changed, table)

    def typed(text: str) -> bytes:
        rows = table.splitlines(True)
        rows[3] = rows[3].rstrip("\n").rstrip(",").removesuffix("rest") + f",{text}\n"
        return sealed(header, "".join(rows))

    title = r'^title = .*$'
    number = r'^full_scale = .*$'
    yield "header of 5 MB in lines", b"# x = 1\n" * 700_000 + whole.encode()
    yield "header of 5 MB in one line", b"# x = \"" + b"a" * 5_000_000 + b"\"\n" + whole.encode()
    yield "a file of nothing but #", b"#" * 3_000_000
    yield "arrays 100 000 deep", told(title, "x = " + "[" * 100_000)
    yield "arrays 400 deep, closed", told(title, "x = " + "[" * 400 + "]" * 400)
    yield "tables 50 000 deep", told(title, "x = " + "{a=" * 50_000)
    yield "dotted keys 5 000 deep", told(title, "a" + ".a" * 5000 + " = 1")
    yield "20 000 channels", told(title, '[[channel]]\ncolumn = "z"\n' * 20_000)
    yield "20 000 unknown keys", told(title, "\n".join(f"k{n} = {n}" for n in range(20_000)))
    for name, text in (("escapes", r"\u001b[2J\u001b]0;x\u0007"), ("bidi", r"\u202e\u2066"),
                       ("NUL", r"a\u0000b"), ("lines", r"one\ntwo\r\nthree"),
                       ("code", CODE), ("markup", "<script>alert(1)</script><img src=//x/y>"),
                       ("formula", "=1+1"), ("a path", "../../../../etc/passwd"),
                       ("100 000 signs", "a" * 100_000)):
        yield f"title: {name}", told(title, f'title = "{text}"')
        yield f"board: {name}", told(r'^name = .*$', f'name = "{text}"')
    for column in ("../../x", "a\\u001b[2J", "\\u202ea", "=1+1", "<b>", "a" * 60_000, "time_s",
                   "", " ", "a\\nb"):
        yield f"column {column[:12]!r}", told(r'^column = "a"$', f'column = "{column}"')
    bold = table.replace("time_s,a,", "time_s,<b>=1+1,", 1)
    yield "column of markup in both", sealed(
        header.replace('column = "a"', 'column = "<b>=1+1"'), bold)
    for value in ("1e308", "1e-320", "inf", "nan", "-1", "0", "9" * 5000, "1e999", '"5"', "true",
                  "1979-05-27", "0x" + "f" * 4000):
        yield f"full_scale {value[:8]}", told(number, f"full_scale = {value}")
        yield f"scale {value[:8]}", told(number, f"full_scale = 4096\nscale = {value}")
        yield f"rate {value[:8]}", told(r'^rate_hz = .*$', f"rate_hz = {value}")
        yield f"nominal {value[:8]}", told(r'^nominal_volts = .*$', f"nominal_volts = {value}")
        yield f"reading {value[:8]}", sealed(header, table.replace(
            "\n0.0", f"\n0.0\n0.0,{value},1,1,\n0.0", 1))
        yield f"time {value[:8]}", sealed(header, table + f"{value},1,1,1,\n")
    for mark in ("gap \u00b2", "gap " + "9" * 5000, "gap 99999999999999999999", "gap -1",
                 "gap 1e9", ESCAPE, BIDI, "press\x00", '"' + "a" * 60_000 + '"', CODE,
                 "meter 1e999", "meter " + "9" * 5000, "meter \u0661"):
        yield f"mark {mark[:12]!r}", typed(mark)
    yield "every row a mark", sealed(header, re.sub(r",[a-z]*\n", ",press\n", table).replace(
        "mark", "mark", 1))
    yield "trailer promises 10^15 rows", re.sub(
        rb"# end rows=\d+", b"# end rows=999999999999999", whole.encode())
    yield "a hundred trailers", whole.encode() + b"# end rows=1 crc32=00000000\n" * 100
    yield "one time for all rows", sealed(header, re.sub(
        r"^[0-9][0-9.]*,", "1.0,", table, flags=re.MULTILINE))
    yield "a gap of 10^9 s", sealed(header, table + "1000000000.0,1,1,1,\n")
    yield "a pickle", b"\x80\x04\x95c\x00os\nsystem\n"
    yield "a quoted cell that never ends", sealed(header, table + '9999.0,1,1,1,"' + "\n,x" * 9000)


def templates() -> Iterator[tuple[str, bytes]]:
    """Yield lists to fill that ask for more than a value."""
    for text in ("{start_of_travel.a.__class__.__mro__}", "{0.__class__}", "{title!r}",
                 "{title.__init__.__globals__}", "{start_of_travel.a:999999999d}",
                 "{start_of_travel.a:.999999f}", "{title:{title}}", "{" + CODE + "}",
                 "${HOME}$(id)",
                 "{start_of_travel.a", "}" * 1000, "{" * 900_000, "{" + "a" * 900_000 + "}",
                 "{" + ESCAPE + "}", "{" + BIDI + "}", "{start_of_travel.a.counts99999999999}",
                 "{start_of_travel.a.counts" + "9" * 5000 + "}", "{start_of_travel.a.counts\u00b2}",
                 "{start_of_travel.a:\u0661\u0662d}", "{start_of_travel." + "a" * 5000 + "}"):
        yield text[:24], text.encode()
    yield "binary", bytes(range(256)) * 100
    yield "2 MB", b"x" * 2_000_000
    yield "0 bytes", b""


def logs() -> Iterator[tuple[str, bytes]]:
    """Yield logs of other origin."""
    rows = "".join(f"{k / 100:.2f},{k % 7}.5,{k % 5}.25\n" for k in range(300))
    yield "a number of 5000 digits", f"time,a,b\n0.00,{'9' * 5000},1\n{rows}".encode()
    yield "readings of 1e308", ("time,a,b\n" + rows.replace(".25", "e308")).encode()
    yield "times of 1e308", ("time,a,b\n" + rows + "1e308,1,1\n").encode()
    yield "100 000 columns", (",".join(["x"] * 100_000) + "\n").encode() * 6
    yield "one cell of 3 MB", ("time,a,b\n" + "0," + "x" * 3_000_000 + ",1\n" + rows).encode()
    yield "a quote that never ends", ('time,a,b\n"' + rows).encode()
    yield "a quoted cell of 300 kB", ('time,a,b\n"' + "7" * 300_000 + '",1,2\n' + rows).encode()
    yield "escapes in names", (f"time,{ESCAPE},{BIDI}\n" + rows).encode()
    yield "escapes in cells", ("time,a,b\n" + f"0.0,{ESCAPE},1\n" * 40 + rows).encode()
    yield "markup and formulas as names", ("time,=1+1,<script>\n" + rows).encode()
    yield "NUL here and there", ("time,a,b\n" + rows).replace("1", "\0").encode()
    yield "dates nobody knows", ("time,a,b\n" + "99:99:99 32/13/0000,1,2\n" * 50).encode()
    yield "dates far away", ("time,a,b\n" + "9999-12-31 23:59:59,1,2\n" * 50).encode()
    yield "labels without end", ("a:1 " * 200_000).encode()
    yield "labels that nearly match", ("a" * 100_000 + "=").encode() * 5
    yield "digits and signs without end", (("1," * 50_000 + "\n") * 5).encode()
    yield "clocks without end", (("1:2:" * 50_000 + "\n") * 5).encode()
    yield "spaces without end", (" " * 1_000_000 + "\n1 2 3\n").encode()
    yield "half a UTF-16 mark", b"\xff\xfe" + b"a\x00b" * 33
    yield "half a UTF-32", b"\xff\xfe\x00\x00" + b"abc" * 33
    yield "a zipped file", b"PK\x03\x04" + bytes(1000)


def calibrations() -> Iterator[tuple[str, bytes]]:
    """Yield stored calibrations that were not stored by us."""
    good = {"schema": 1, "kind": "channel calibration", "channel": "a"}
    yield "arrays 100 000 deep", b"[" * 100_000
    yield "objects 100 000 deep", b'{"a":' * 100_000
    yield "another kind", b"[1, 2, 3]"
    for name, more in (("points no list", {"points": 5}), ("points of null", {"points": [None]}),
                       ("number beyond floats", {"points": [{"volts": 10**400}]}),
                       ("curve no object", {"points": [], "curve": []}),
                       ("schema of 10^400", {"schema": 10**400}),
                       ("schema of text", {"schema": ESCAPE + "1"})):
        yield name, json.dumps(good | more).encode()
    stored = stored_calibration()
    for name, old, new in (
            ("a sender's values no object", r'"stated": \{.*?\}', '"stated": [1]'),
            ("a sender nobody knows", r'"kind": "volts"', '"kind": "os.system"'),
            ("a form nobody knows", r'"form": "[a-z ]+"', f'"form": "{CODE}"'),
            ("a date of nonsense", r'"date": "[^"]*"', '"date": "yesterday \\u001b[2J"'),
            ("coefficients of 1e308", r'"coefficients": \[.*?\]', '"coefficients": [1e308, 1e308]'),
            ("coefficients beyond floats", r'"coefficients": \[.*?\]',
             f'"coefficients": [{"9" * 400}, 1]'),
            ("coefficients of text", r'"coefficients": \[.*?\]', '"coefficients": ["x", "y"]'),
            ("a thousand coefficients", r'"coefficients": \[.*?\]',
             f'"coefficients": {[1.0] * 1000}'),
            ("a degree of 10^9", r'"degree": \d+', '"degree": 1000000000'),
            ("freedom of 1e400", r'"freedom": \d+', '"freedom": 1e400'),
            ("a channel of control signs", r'"channel": "[^"]*"', '"channel": "\\u001b[2J"')):
        changed = re.sub(old, lambda _, new=new: new, stored, count=1, flags=re.DOTALL)
        assert changed != stored, name
        yield name, changed.encode()


def stored_calibration() -> str:
    """Return a calibration as the program stores it."""
    with tempfile.TemporaryDirectory() as name:
        points = Path(name) / "level.csv"
        points.write_text("reading,meter\n0.5,1.0\n1.5,3.1\n2.5,5.0\n3.5,6.9\n4.5,9.0\n")
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            assert stillpedal(["meter", "--from", str(points), "--kind", "volts", "--channel", "a",
                               "--store", name]) == 0
        return next(Path(name).glob("*.json")).read_text()


def points() -> Iterator[tuple[str, bytes]]:
    """Yield lists of points."""
    few = "1.0,2.0\n2.0,4.0\n3.0,6.0\n4.0,8.1\n"
    for name, line in (("1e308", "1e308,1e308\n"), ("5000 digits", "9" * 5000 + ",1\n"),
                       ("inf", "inf,1\n"), ("nan", "nan,nan\n"), ("NUL", "1\0,2\n"),
                       ("escapes", f"{ESCAPE},1\n"), ("bidi", f"1,{BIDI}\n"),
                       ("code", f"{CODE},1\n"),
                       ("a cell of 300 kB", "7" * 300_000 + ",1\n"),
                       ("a quote that never ends", '"1,2\n'), ("one cell", "1\n"),
                       ("1e-320", "1e-320,1e-320\n"), ("underscores", "1_0,2\n"),
                       ("Arabic digits", "\u0661,\u0662\n"), ("-1e300", "-1e300,1\n")):
        yield name, ("reading,meter\n" + few + line).encode()
    yield "a header of escapes", f"{ESCAPE},{BIDI}\n{few}".encode()
    yield "a quoted header of 300 kB", ('"' + "x" * 300_000 + '",meter\n' + few).encode()
    yield "not UTF-8", b"\xff\xfe\xfa\n1,2\n"
    yield "all points alike", b"reading,meter\n" + b"1,1\n" * 2000
    yield "3 MB of points", b"reading,meter\n" + b"".join(
        b"%d.5,%d\n" % (k % 5, k % 5) for k in range(400_000))


def calls(folder: Path, sound: str, quick: bool) -> Iterator[tuple[str, list[str]]]:
    """Yield every case: its name, and the words of the call."""
    path = str(folder / "evil.csv")
    evil = Path(path)
    for number, (name, data) in enumerate(recordings()):
        if quick and number % 20:
            continue
        evil.write_bytes(data)
        yield f"recording, {name}", ["findings", path]
        # An export is never written over: each case is to find its place free.
        (folder / "out.csv").unlink(missing_ok=True)
        other = (["settings", path, "--format", "csv"], ["settings", path, "--format", "c"],
                 ["settings", path, "--format", "toml"], ["findings", path, "--json"],
                 ["export", path, "--out", str(folder / "out.csv")],
                 ["meter", "--from", path, "--kind", "volts", "--channel", "a"],
                 ["watch", "--from", path], ["compare", path, sound],
                 ["trend", str(folder)])[number % 9]
        yield f"recording, {name} ({other[0]})", other
        if "mark" in name:
            yield f"recording, {name} (meter)", ["meter", "--from", path, "--kind", "volts",
                                                 "--channel", "a"]
    for name, data in templates():
        (folder / "evil.txt").write_bytes(data)
        yield f"template, {name}", ["settings", sound, "--template", str(folder / "evil.txt")]
    for name, data in logs():
        evil.write_bytes(data)
        (folder / "in.csv").unlink(missing_ok=True)
        yield f"log, {name}", ["import", path, "--out", str(folder / "in.csv")]
    for encoding in ("zip", "undefined", "rot13", "idna", "unicode_escape", "x" * 500, "../x",
                     "punycode", "a\0b"):
        evil.write_bytes(b"time,a,b\n\\x1b,1,2\n0.0,1,2\n0.1,2,3\n0.2,3,4\n")
        (folder / "in.csv").unlink(missing_ok=True)
        yield f"encoding {encoding[:14]!r}", ["import", path, "--encoding", encoding, "--out",
                                              str(folder / "in.csv")]
    for name, data in calibrations():
        (folder / "evil.json").write_bytes(data)
        yield f"calibration, {name}", ["meter", "--apply", sound, "--calibration",
                                       str(folder / "evil.json"), "--out",
                                       str(folder / "applied.csv")]
    for name, data in points():
        evil.write_bytes(data)
        yield f"points, {name}", ["meter", "--from", path, "--kind", "volts"]
    yield from links(folder, sound)


LINKS = ("loop", "zero", "away", "pipe", "all of them", "out through", "export through",
         "import through")


def links(folder: Path, sound: str) -> Iterator[tuple[str, list[str]]]:
    """Yield paths that lead elsewhere, or nowhere, or never end."""
    if not hasattr(os, "symlink") or not hasattr(os, "mkfifo"):
        return
    (folder / "loop.csv").symlink_to(folder / "loop.csv")
    (folder / "treasure.csv").write_bytes(Path(sound).read_bytes())
    (folder / "link.csv").symlink_to(folder / "treasure.csv")
    (folder / "zero.csv").symlink_to("/dev/zero")
    (folder / "away.csv").symlink_to(folder / "no" / "such" / "file.csv")
    os.mkfifo(folder / "pipe.csv")
    for name in ("loop", "zero", "away", "pipe"):
        path = str(folder / f"{name}.csv")
        yield f"{name}: findings", ["findings", path]
        yield f"{name}: meter", ["meter", "--from", path, "--kind", "volts"]
        yield f"{name}: import", ["import", path, "--out", str(folder / "in2.csv")]
        yield f"{name}: template", ["settings", sound, "--template", path]
        yield f"{name}: calibration", ["meter", "--apply", sound, "--calibration", path]
    yield "all of them: trend", ["trend", str(folder)]
    yield "out through a link onto a recording", [
        "settings", sound, "--out", str(folder / "link.csv")]
    yield "export through a link onto a recording", [
        "export", sound, "--out", str(folder / "link.csv")]
    yield "import through a link onto a recording", [
        "import", str(SAMPLES / "README.md"), "--out", str(folder / "link.csv")]


def odd(words: list[str], watch: Watch) -> str | None:
    """Run one case; return what it did that it must not, None when it behaved."""
    out, err = io.StringIO(), io.StringIO()
    begun = time.monotonic()
    watch.seen.clear()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), \
            warnings.catch_warnings():
        warnings.simplefilter("error")
        watch.on = True
        try:
            code = stillpedal(words)
        except SystemExit as end:
            code = int(end.code or 0)
        except BaseException as error:
            frames = [f for f in traceback.extract_tb(error.__traceback__)
                      if "site-packages" not in f.filename]
            return (f"crashed: {type(error).__name__}: {str(error)[:80]!r} at "
                    f"{frames[-1].filename}:{frames[-1].lineno}")
        finally:
            watch.on = False
    spent = time.monotonic() - begun
    if watch.seen:
        return f"did: {watch.seen[:3]}"
    if spent > MOST_SECONDS:
        return f"took {spent:.0f} s"
    text, said = out.getvalue(), err.getvalue()
    for name, words_ in (("screen", text), ("errors", said)):
        hidden = {c for c in words_.replace("\r\n", "\n")
                  if not c.isprintable() and c not in "\n\t\xa0"}
        if hidden:
            return f"sent {sorted(hidden)[:4]!r} to the {name}"
    if code == 2 and (said.count("\n") != 1 or text):
        return f"exit 2 with {said.count(chr(10))} lines: {said[:100]!r} and {text[:60]!r}"
    if code == 2 and len(said) > LONGEST_WORD:
        return f"an error of {len(said)} signs"
    if code not in (0, 1, 2):
        return f"exit {code}"
    return None


def measure(quick: bool, report: Report) -> None:
    """Run all cases."""
    # Without the fixes a device or a matrix of all points would take the whole machine.
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, resource.getrlimit(resource.RLIMIT_AS)[1]))
    wrong: list[str] = []
    count = others = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        sound = str(SAMPLES / "synthetic_healthy_pair.csv")
        watch = Watch()
        watch.folder = str(folder)
        os.chdir(folder)
        treasure = Path(sound).read_bytes()
        for case, words in calls(folder, sound, quick):
            # The recordings are thinned out where they are made; each link is another trap.
            if quick and not case.startswith(("recording", *LINKS)):
                others += 1
                if others % 5:
                    continue
            count += 1
            trouble = odd(words, watch)
            if trouble is not None:
                wrong.append(f"{case}: {trouble}")
                print(f"    {wrong[-1]}", flush=True)
        link = folder / "treasure.csv"
        if link.exists():
            report.promise("a recording behind a link is untouched",
                           link.read_bytes() == treasure, "")
        report.promise("no file 'owned' was made", not (folder / "owned").exists(), "")
        os.chdir("/")
    report.promise(f"of {count} calls: crashed, hung, ran code, or spoke in riddles",
                   not wrong, len(wrong))
    peak = peak_megabytes()
    report.promise("peak memory below 600 MB", peak < 600, f"{peak:.0f} MB")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
