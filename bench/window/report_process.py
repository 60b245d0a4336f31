"""Work that draws with Qt, done by a second process: only one thread may draw in this one."""

import contextlib
import os
import pickle
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from analysis.parameters import Parameters
from bench.errors import BadFile
from bench.services.findings import Findings, assuming
from bench.services.report import ReportOptions

# What is on show is handed over as it is: read and analysed again it might be another.
_CODE = """
import pickle, sys
from analysis.model.errors import AnalysisError
from bench.errors import BenchError
from {module} import {name}
from bench.wording.face import WINDOW
from bench.wording.refusals import refused
try:
    made = {name}(*pickle.load(sys.stdin.buffer))
    sys.stdout.buffer.write(str(made).encode("utf-8", "surrogateescape"))
except (AnalysisError, BenchError) as error:
    sys.exit(" ".join(refused(error, WINDOW).split()))
"""


def write_report_beside(findings: Findings, source: Path, out: Path, options: ReportOptions,
                        earlier: Findings | None,
                        progress: Callable[[float, str], None]) -> Path:
    """Write the report in a second process and return where it lies; call it from a thread.

    source: the recording's file. earlier: what was found in the recording of `options.before`.
    When `out` is taken by then, the next free name is. `progress` may raise to stop it.
    Raises BadFile with what the second process said.
    """
    if earlier is not None:
        # Judged as the command line does: by the same parameters, without any log.
        earlier = assuming(earlier, findings.parameters)
    return _beside("bench.services.report", "write_report_of",
                   (findings, source if source.exists() else None, out, options, earlier), out,
                   progress)


def sign_job_beside(folder: Path, out: Path, by: str, vehicle: str, parameters: Parameters,
                    progress: Callable[[float, str], None]) -> Path:
    """Write the page of a job's proofs in a second process, note it in the job, return its place.

    Call it from a thread. Raises BadFile with what the second process said.
    """
    return _beside("bench.services.proof", "sign_job",
                   (folder, out, by, vehicle, parameters), out, progress)


def _beside(module: str, name: str, values: tuple[object, ...], out: Path,
            progress: Callable[[float, str], None]) -> Path:
    """Call a function that writes to `out` in a second process; return what it returns, a path."""
    asked = pickle.dumps(values)
    child = subprocess.Popen(
        [sys.executable, "-c", _CODE.format(module=module, name=name)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, env=os.environ | {"QT_QPA_PLATFORM": "offscreen"})
    assert child.stdin is not None
    assert child.stdout is not None
    try:
        with contextlib.suppress(BrokenPipeError):
            # One that ended early says why below.
            child.stdin.write(asked)
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
        lines = [line for line in said.decode("utf-8", "replace").splitlines() if line.strip()]
        raise BadFile(lines[-1] if lines else f"the report was not written to {out}")
    return Path(made.decode("utf-8", "surrogateescape"))
