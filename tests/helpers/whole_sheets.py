"""Every kind of sheet of the sample recordings, as it is stored in tests/sheets.

    python tests/helpers/whole_sheets.py      store them anew, on purpose; then read the diff

Words are kept to the letter. A number of more than nine digits is cut to nine: the last ones are
the processor's.
"""

import html
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import chdir
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path[:0] = [str(ROOT), str(ROOT / "tests/helpers")]

from in_process import stillpedal  # noqa: E402 - run by itself it is found only now

SAMPLES, STORED = ROOT / "sample_sweeps", ROOT / "tests" / "sheets"
SWEEPS = [p.stem.removeprefix("synthetic_") for p in sorted(SAMPLES.glob("synthetic_*.csv"))
          if "key_on" not in p.stem]
LOGS = [p.stem.removeprefix("synthetic_") for p in sorted(SAMPLES.glob("synthetic_key_on_*.csv"))]
# Sound, bad by its contact, bad by its pair: whose sheets stand here whole.
WHOLE = ("healthy_pair", "off_at_rest", "wiper_dropouts")
WHOLE_LOGS = ("key_on_ground_offset", "key_on_quiet_car")
_LONG = re.compile(r"-?\d+\.\d+(?:e[-+]?\d+)?")


def _file(name: str) -> str:
    return f"synthetic_{name}.csv"


def _nine_digits(number: re.Match[str]) -> str:
    digits = re.sub(r"e.*|\D", "", number[0]).lstrip("0")
    return number[0] if len(digits) <= 9 else f"{float(number[0]):.9g}"


def _printed(*words: str) -> str:
    done = stillpedal(*words)
    return "".join(f"{text}" for text in (
        f"$ stillpedal {' '.join(words)}\n", done.stdout,
        f"--- to the screen's other stream\n{done.stderr}" if done.stderr else "",
        "" if done.returncode == 0 else f"--- exit {done.returncode}\n"))


def _report_words(name: str, *more: str) -> str:
    """Return the words of a report's page, one element a line, without its drawings."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "page.html"
        done = stillpedal("report", *more, _file(name), "--out", str(out))
        page = out.read_text(encoding="utf-8") if done.returncode == 0 else done.stderr
    page = re.sub(r"<(style|script)\b.*?</\1>", "", page, flags=re.DOTALL)
    # A drawing's axis labels are its own affair; its title and description are words.
    page = re.sub(r"<svg\b.*?</svg>", "", page, flags=re.DOTALL)
    text = html.unescape(re.sub(r"<[^>]+>", "\n", page))
    lines = [line for line in (" ".join(line.split()) for line in text.splitlines()) if line]
    return "\n".join(line for line in lines if "printed" not in line.lower()) + "\n"


def sheets() -> Iterator[tuple[str, str]]:
    """Yield the file name and the text of each sheet, made now."""
    with chdir(SAMPLES):
        yield "findings_on_a_screen.txt", "\n".join(_printed("findings", _file(n)) for n in SWEEPS)
        yield "settings_on_a_screen.txt", "\n".join(_printed("settings", _file(n)) for n in SWEEPS)
        yield "watch_on_a_screen.txt", "\n".join(
            _printed("watch", "--from", _file(n), "--sweep", _file(
                "opposed_pair" if "opposed" in n else "healthy_pair")) for n in LOGS)
        for name in WHOLE:
            yield f"findings_{name}.txt", _printed("findings", _file(name), "--more")
            yield f"findings_{name}.json", stillpedal("findings", _file(name), "--json").stdout
        for form in ("text", "json", "csv", "toml", "c"):
            yield f"settings_off_at_rest.{form}", stillpedal(
                "settings", _file("off_at_rest"), "--format", form).stdout
        yield "settings_with_a_log.text", stillpedal(
            "settings", _file("healthy_pair"), "--key-on", _file("key_on_ground_offset"),
            "--format", "text").stdout
        for name in WHOLE_LOGS:
            words = ("watch", "--from", _file(name), "--sweep", _file("healthy_pair"))
            yield f"watch_{name}.txt", _printed(*words, "--more")
            yield f"watch_{name}.json", stillpedal(*words, "--json").stdout
        pair = (_file("off_at_rest"), _file("healthy_pair"))
        yield "compare.txt", _printed("compare", *pair)
        yield "compare.json", stillpedal("compare", *pair, "--json").stdout
        yield "report_off_at_rest.txt", _report_words("off_at_rest")
        yield "report_before_and_after.txt", _report_words("healthy_pair", _file("off_at_rest"))


def settled(text: str) -> str:
    """Return a sheet without what differs between machines and versions."""
    from bench.version import version

    return _LONG.sub(_nine_digits, text.replace(version(), "VERSION"))


def store() -> None:
    """Store every sheet anew; leave none that is no longer made."""
    made = {name: settled(text) for name, text in sheets()}
    STORED.mkdir(exist_ok=True)
    for old in STORED.iterdir():
        if old.name not in made:
            old.unlink()
    for name, text in made.items():
        (STORED / name).write_text(text, encoding="utf-8", newline="\n")
    print(f"{len(made)} sheets in {STORED}")


if __name__ == "__main__":
    store()
