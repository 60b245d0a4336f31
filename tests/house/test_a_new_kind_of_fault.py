"""A new kind of fault is its module, its code and its words; nothing else has to call it.

No outside source: the promise is the project's own ("to add a fault" in DEVELOPERS.md).
"""

import sys

from analysis.pedal import faults
from analysis.pedal.findings import analyse
from analysis.pedal.sweep_faults import detectors
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
