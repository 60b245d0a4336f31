"""The window says nothing of options and commands: it has fields and pages."""

import ast
import functools
import re

import pytest
from places import ROOT

from bench.wording.in_window import FIELDS, in_window

OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
# What the window calls, and what that calls; the command line's own room is none of it.
ROOMS = ("analysis", "bench/services", "bench/files", "bench/acquisition", "bench/report")
HEARD_BY_NO_WINDOW = {"trend.py", "folder.py", "brief_trend.py", "guide.py"}


@functools.cache
def refusals():
    """Every string of a `raise` in these rooms that names an option."""
    found = []
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            if path.name in HEARD_BY_NO_WINDOW:
                continue
            text = path.read_text(encoding="utf-8")
            if not OPTION.search(text):
                continue
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.Raise):
                    found += [part.value for part in ast.walk(node)
                              if isinstance(part, ast.Constant) and isinstance(part.value, str)
                              and OPTION.search(part.value)]
    return found


def test_every_option_that_a_refusal_names_has_a_field():
    """The table knows each option, so that none is told by its bare name."""
    named = {option for text in refusals() for option in OPTION.findall(text)}
    assert len(named) > 10
    assert not named - set(FIELDS)


def test_no_refusal_names_an_option_in_the_window():
    """As the window says them no message has an option left."""
    assert not [text for text in refusals() if OPTION.search(in_window(text))]


@pytest.mark.parametrize(("told", "in_its_words"), [
    ("choose another --out", "choose another name"),
    ("say which with --channel", "say which with the channel"),
    ("try 'stillpedal meter', or go on", "try the page Senders, or go on"),
    ("use stillpedal meter --from 'a log/x.csv'", "use the page Senders"),
    ("or 'stillpedal boards forget NAME' first", "or the page Wire up first"),
    ("12 --> 13 stays, as does pre--post and 'stillpedal[mdf]'",
     "12 --> 13 stays, as does pre--post and 'stillpedal[mdf]'"),
])
def test_the_words_are_those_of_the_window(told, in_its_words):
    """An option becomes its field, a command its page; nothing else is touched."""
    assert in_window(told) == in_its_words
