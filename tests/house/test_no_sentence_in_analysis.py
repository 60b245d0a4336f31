"""`analysis` holds codes, never a sentence: what a person reads is made in bench/wording.

No outside source: the promise is the project's own (DEVELOPERS.md, "Where a sentence stands").
"""

import ast
import importlib
import re
from collections.abc import Mapping
from functools import cache

import pytest
from places import ROOT
from texts_of_code import texts

# So many words make a sentence of a text that is no code.
LEAST = 3
# Codes that no table of words has: why they need none.
MAY: dict[str, str] = {
    **dict.fromkeys((
        "no power at key-on", "levels known all the time", "the pedal is the sweep's",
        "the leads hold in the car", "what the car adds was measured",
        "noise stays below start of travel", "brake and pedal never come together"),
        "a claim of a key-on log: its name in the JSON"),
    **dict.fromkeys((
        "track not in both", "another nominal supply", "start of travel not known",
        "power in the log", "no sweep given", "noise passes start of travel", "noise not known",
        "brake with pedal", "start of travel no longer holds"),
        "why a claim is bad or open: a code in the JSON"),
    "what the controller's input adds": "a line of the dead band's budget: its name in the JSON",
    **dict.fromkeys(("same slope with offset", "one track only", "turn or trim", "volts by track",
                     "out of limits", "short to ground", "no live zero", "other full ohms"),
                    "a kind, told by others' words"),
    **dict.fromkeys(("power still on", "it does not run"), "what a person's mark says"),
    **dict.fromkeys(("simulated {}-bit board", "simulated 12-bit board"), "the name of a board"),
    " {} at the plug": "a mark of a simulated proof",
}


def is_sentence(text: str) -> bool:
    """Return whether a text has words enough, and a space, for a person to read it."""
    return " " in text and len(re.findall(r"[A-Za-z]{2,}", text)) >= LEAST


@cache
def _spoken() -> set[str]:
    """Return every code that a table of bench/wording has words for."""
    found = set()
    for path in (ROOT / "bench/wording").rglob("*.py"):
        name = path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".")
        module = importlib.import_module(name.removesuffix(".__init__"))
        for table in vars(module).values():
            if isinstance(table, Mapping):
                found |= {key for key in table if isinstance(key, str)}
    return found


@pytest.mark.parametrize("line", [
    "f'the ratio is 1:{r}, stated 1:{s}'", "raise ValueError('the lead is broken')",
    "why = 'look at both tracks' if x else ''"])
def test_a_sentence_is_seen(line: str) -> None:
    """What senders once said is found."""
    assert any(is_sentence(text) and text not in _spoken() for _, text in texts(ast.parse(line)))


def test_no_sentence_stands_in_the_analysis() -> None:
    """Each text of three words is a code with words in bench/wording, or has a row in MAY."""
    wrong, met = [], set()
    for path in sorted((ROOT / "analysis").rglob("*.py")):
        for line, text in texts(ast.parse(path.read_text(encoding="utf-8"))):
            if is_sentence(text) and text not in _spoken():
                met.add(text)
                if text not in MAY:
                    wrong.append(f"{path.relative_to(ROOT)}:{line}: {text}")
    assert not wrong
    assert met == set(MAY)
