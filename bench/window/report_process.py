"""Work that draws with Qt, done by a second process: only one thread may draw in this one."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

from analysis.parameters import Parameters
from bench.errors import BadFile

_CODE = """
import json, sys
from pathlib import Path
from analysis.model.errors import AnalysisError
from analysis.parameters import Parameters
from bench.errors import BenchError
from bench.services.report import ReportOptions, write_report
asked = json.load(sys.stdin)
before = asked["before"]
try:
    made = write_report(Path(asked["source"]), Path(asked["out"]),
                        Parameters(**asked["parameters"]), ReportOptions(
        before=None if before is None else Path(before),
        key_on=None if asked["key_on"] is None else Path(asked["key_on"]),
        contactor=asked["contactor"], remark=asked["remark"], number=True))
    json.dump(str(made), sys.stdout)
except (AnalysisError, BenchError) as error:
    sys.exit(" ".join(str(error).split()))
"""


def write_report_beside(source: Path, out: Path, parameters: Parameters, before: Path | None,
                        progress: Callable[[float, str], None], key_on: Path | None = None,
                        contactor: str | None = None, remark: str = "") -> Path:
    """Write the report in a second process and return where it lies; call it from a thread.

    When `out` is taken by then, the next free name is.
    `progress` may raise to stop it. key_on, contactor, remark: as `ReportOptions` has them.
    Raises BadFile with what the second process said.
    """
    asked = {"source": str(source), "out": str(out), "parameters": asdict(parameters),
             "before": None if before is None else str(before),
             "key_on": None if key_on is None else str(key_on), "contactor": contactor,
             "remark": remark}
    child = subprocess.Popen(
        [sys.executable, "-c", _CODE], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env=os.environ | {"QT_QPA_PLATFORM": "offscreen"})
    assert child.stdin is not None
    assert child.stdout is not None
    try:
        child.stdin.write(json.dumps(asked))
        child.stdin.close()
        while child.poll() is None:
            progress(-1.0, "")
            time.sleep(0.05)
    finally:
        if child.poll() is None:
            child.kill()
            child.wait()
        assert child.stderr is not None
        said, made = child.stderr.read(), child.stdout.read()
        child.stderr.close()
        child.stdout.close()
    if child.returncode != 0:
        lines = [line for line in said.splitlines() if line.strip()]
        raise BadFile(lines[-1] if lines else f"the report was not written to {out}")
    return Path(json.loads(made))
