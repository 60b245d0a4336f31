"""A new kind of fault or of sender is its module and its words; no list has to name it.

No outside source: the promise is the project's own ("To add a ..." in DEVELOPERS.md).
"""

import subprocess
import sys

from places import ROOT

from analysis.pedal import faults
from analysis.pedal.findings import analyse
from analysis.pedal.sweep_faults import detectors
from analysis.senders import KINDS
from analysis.simulation import pedal_named, simulate_sweep

MADE_UP = """
from analysis.model.finding import Reason
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.swept import Swept


def detect(swept: Swept) -> list[Fault]:
    return [Fault("flat spot", "a", float(swept.times[0]), float(swept.times[-1]), 40.0, 2,
                  Reason("flat spot", {"rows": swept.recording.rows}))]
"""


def test_a_module_of_a_fault_is_found_by_its_detect(tmp_path, monkeypatch):
    (tmp_path / "made_up.py").write_text(MADE_UP)
    recording = simulate_sweep(pedal_named("healthy"), 100.0, 12, seed=1).recording
    detectors.cache_clear()
    with monkeypatch.context() as there:
        there.setattr(faults, "__path__", [*faults.__path__, str(tmp_path)])
        there.setattr(sys, "dont_write_bytecode", True)
        found = analyse(recording).faults
    detectors.cache_clear()
    sys.modules.pop(f"{faults.__name__}.made_up")
    assert [f.why.values["rows"] for f in found if f.kind == "flat spot"] == [recording.rows]
    assert not [f for f in analyse(recording).faults if f.kind == "flat spot"]


SENDER = """
from dataclasses import dataclass

from analysis.senders.sender import Sender


@dataclass(frozen=True)
class MadeUp(Sender):
    \"\"\"Hold nothing but its kind.\"\"\"

    kind = "made up"
"""


def test_a_module_of_a_sender_is_found_by_its_kind(tmp_path):
    """In a process of its own: the kinds are gathered once, when they are first asked for."""
    (tmp_path / "made_up.py").write_text(SENDER)
    program = (
        "import sys, importlib.util\n"
        "found = importlib.util.find_spec('analysis.senders')\n"
        f"found.submodule_search_locations.append({str(tmp_path)!r})\n"
        "room = sys.modules['analysis.senders'] = importlib.util.module_from_spec(found)\n"
        "found.loader.exec_module(room)\n"
        "print(*room.KINDS, sep=',')\n"
        "print(room.make_sender('made up', {}).kind)\n")
    said = subprocess.run([sys.executable, "-B", "-c", program], cwd=ROOT, text=True,
                          capture_output=True, check=True, timeout=60).stdout.splitlines()
    assert said[0].split(",") == [*list(KINDS)[:-1], "made up", list(KINDS)[-1]]
    assert said[1] == "made up"
