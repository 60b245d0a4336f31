"""Tests reach for no private name of the product: what they need of it is public."""

import re

from places import ROOT

# A name with one underscore before it, behind a dot that is not one's own, or imported.
REACHED = re.compile(r"(?<!\bself)(?<!\bcls)\.(_[A-Za-z]\w*)|setattr\(\w+, \"(_[A-Za-z]\w*)\"")
IMPORTED = re.compile(r"^ *from (?:analysis|bench)[\w.]* import (\([^)]*\)|.*)$", re.MULTILINE)
PRIVATE = re.compile(r"(?<![\w])_[A-Za-z]\w*")
# (file, name): why no public name would do.
MAY: dict[tuple[str, str], str] = {
    ("acquisition/test_wire_frames.py", "_inner"): "what a decoder holds back shows nowhere else",
    ("acquisition/test_wire_frames.py", "_buffer"): "its size is the promise: it stays bounded",
    ("acquisition/test_wire_text_lines.py", "_inner"): "what a decoder holds back shows nowhere "
                                                       "else",
    ("acquisition/test_wire_text_lines.py", "_undecided"): "its size is the promise",
    ("acquisition/test_wire_text_lines.py", "_rest"): "its size is the promise",
    ("acquisition/test_recorder_any_order_of_events.py", "_write"): "a listener of the test's own "
                                                                    "that fails while it writes",
    ("files/test_recording_writer_edges.py", "_syncer"): "what its thread met: nobody waits for it",
    ("files/test_recording_writer_edges.py", "_error"): "the same",
    ("house/test_other_systems.py", "_port"): "a port of a system that is not this one",
    ("stress/window_eight_hours.py", "_opener"): "a thread whose end is waited for",
}


def _names_of_the_product() -> set[str]:
    return {name for package in ("analysis", "bench") for path in (ROOT / package).rglob("*.py")
            for name in PRIVATE.findall(path.read_text(encoding="utf-8"))}


def reached(text: str, ours: set[str]) -> set[str]:
    """Return the private names of the product that a test's text reaches for."""
    names = {a or b for a, b in REACHED.findall(text)}
    names |= {n for line in IMPORTED.findall(text) for n in PRIVATE.findall(line)}
    return names & ours


def test_no_test_reaches_for_a_private_name() -> None:
    """What a class or a module keeps to itself may change without a test that breaks by it."""
    ours = _names_of_the_product()
    found = {(path.relative_to(ROOT / "tests").as_posix(), name)
             for path in (ROOT / "tests").rglob("*.py")
             for name in reached(path.read_text(encoding="utf-8"), ours)}
    assert found == set(MAY)


def test_each_way_to_reach_for_one_is_seen() -> None:
    """An attribute, a patched constant and an import are found; one's own name is not."""
    name = "_" + "kept"
    for text in (f"page.{name}", f'patch.setattr(module, "{name}", 1)',
                 f"from bench.x import (\n    a,\n    {name},\n)"):
        assert reached(text, {name}) == {name}
    assert not reached(f"self.{name} = 1", {name})
