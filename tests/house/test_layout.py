"""The house stands as DEVELOPERS.md draws it: who may import whom, and what loads when."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from places import ROOT

# Who may import whom, from the top of the house down: one row for each package. A package may
# import itself and what stands in its row; `EVERYWHERE` is open to all of `bench`.
ROOMS: dict[str, set[str]] = {
    "analysis": set(),
    "analysis.model": set(),
    "analysis.statistics": {"analysis.model"},
    "analysis.signal": {"analysis.model", "analysis.statistics"},
    "analysis.circuit": {"analysis.model"},
    "analysis.evidence": {"analysis.model", "analysis.signal", "analysis.pedal",
                          "analysis.key_on"},
    "analysis.pedal": {"analysis.model", "analysis.statistics", "analysis.signal",
                       "analysis.circuit",
                       "analysis.evidence", "analysis.parameters"},
    "analysis.pedal.faults": {"analysis.model", "analysis.statistics", "analysis.signal",
                              "analysis.pedal", "analysis.parameters"},
    "analysis.key_on": {"analysis.model", "analysis.statistics", "analysis.signal",
                        "analysis.evidence", "analysis.pedal", "analysis.parameters"},
    "analysis.senders": {"analysis.model", "analysis.statistics", "analysis.signal",
                         "analysis.senders.calibration"},
    "analysis.senders.calibration": {"analysis.model", "analysis.statistics", "analysis.signal"},
    "analysis.proof": {"analysis.model", "analysis.statistics", "analysis.signal",
                       "analysis.key_on", "analysis.circuit", "analysis.pedal",
                       "analysis.parameters"},
    "analysis.simulation": {"analysis.model"},
    "bench": {"bench.command_line"},
    "bench.wording": {"analysis"},
    "bench.wording.pages": {"analysis", "bench.wording"},
    "bench.wording.senders": {"analysis", "bench.wording"},
    "bench.acquisition": {"analysis", "bench.files", "bench.wording"},
    "bench.acquisition.wire": {"analysis"},
    "bench.acquisition.boards": {"analysis", "bench.acquisition.wire", "bench.files",
                                 "bench.wording"},
    "bench.files": {"analysis", "bench.wording"},
    "bench.files.exports": {"analysis", "bench.files", "bench.wording"},
    "bench.files.imports": {"analysis", "bench.files", "bench.wording"},
    "bench.plots": {"analysis", "bench.wording"},
    "bench.report": {"analysis", "bench.plots", "bench.wording", "bench.files"},
    "bench.services": {"analysis", "bench.acquisition", "bench.files", "bench.report",
                       "bench.wording"},
    "bench.command_line": {"analysis", "bench.services", "bench.wording", "bench.window"},
    "bench.window": {"analysis", "bench.services", "bench.plots", "bench.wording"},
    "bench.window.pages": {"analysis", "bench.services", "bench.plots", "bench.wording",
                           "bench.window"},
}
EVERYWHERE = {"bench.errors", "bench.system", "bench.version"}


def _package_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).parent.parts)


@cache
def _nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


@cache
def _imports(path: Path) -> frozenset[str]:
    found: set[str] = set()
    for node in _nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(found)


def _modules(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def _printed_by(code: str) -> str:
    """Return what the code prints in a process of its own, which has loaded nothing yet."""
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                          timeout=60, check=True).stdout.strip()


def test_analysis_imports_only_numbers() -> None:
    """`analysis` reaches for numpy, scipy, the standard library and itself, nothing else."""
    allowed = set(sys.stdlib_module_names) | {"numpy", "scipy", "analysis"}
    # Of the standard library it may not touch files, ports or the clock.
    refused = {"os", "pathlib", "io", "time", "socket", "subprocess", "threading", "serial",
               "tempfile", "shutil"}
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in _modules("analysis") for name in _imports(path)
        if name.split(".")[0] not in allowed or name.split(".")[0] in refused]
    assert not wrong


def test_every_package_has_a_row() -> None:
    """A new package says first whom it may import."""
    packages = {_package_of(path) for top in ("analysis", "bench") for path in _modules(top)
                if "firmware" not in path.parts}
    assert packages == set(ROOMS)


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_rooms_look_one_way(room: str) -> None:
    """A room imports only the rooms below it."""
    wrong = []
    for path in sorted((ROOT / room.replace(".", "/")).glob("*.py")):
        for name in _imports(path):
            if name.split(".")[0] not in ("analysis", "bench") or name in ("analysis", "bench"):
                continue
            if not any(name == r or name.startswith(f"{r}.")
                       for r in ROOMS[room] | EVERYWHERE | {room}):
                wrong.append(f"{path.relative_to(ROOT)}: {name}")
    assert not wrong


def test_faces_leave_opening_judging_and_issuing_to_the_services() -> None:
    """What one face says of a sweep and a log the other says too: neither analyses by itself."""
    kept_back = {"analysis.pedal.findings.analyse", "analysis.pedal.findings.decide",
                 "analysis.key_on.analyse_key_on", "analysis.key_on.analyse.analyse_key_on",
                 "analysis.key_on.with_values.said_with_values"}
    wrong = [f"{path.relative_to(ROOT)}: {name}"
             for face in ("bench/command_line", "bench/window", "bench/report")
             for path in _modules(face) for name in _imports(path) & kept_back]
    assert not wrong


def test_faces_tell_errors_apart_by_class() -> None:
    """No face reads an error's words to find out what went wrong."""
    wrong = [f"{path.relative_to(ROOT)}:{node.lineno}"
             for face in ("bench/command_line", "bench/window") for path in _modules(face)
             for node in _nodes(path)
             if isinstance(node, ast.Compare)
             and any(isinstance(op, ast.In | ast.NotIn) for op in node.ops)
             and any(isinstance(part, ast.Call) and getattr(part.func, "id", "") == "str"
                     and getattr(part.args[0], "id", "") in ("error", "trouble", "bug")
                     for part in node.comparators)]
    assert not wrong


def test_only_one_module_opens_ports() -> None:
    """pyserial is imported in the serial board alone."""
    users = [path.relative_to(ROOT).as_posix() for path in _modules("bench")
             if any(name.split(".")[0] == "serial" for name in _imports(path))]
    assert all(user.startswith("bench/acquisition/boards/") for user in users)
    assert users


def test_widgets_stay_in_the_window() -> None:
    """Qt is imported in the window, the figures, the report and the picture of a figure only."""
    users = {path.relative_to(ROOT).parts[1] for path in _modules("bench")
             if any(name.split(".")[0] in ("PySide6", "pyqtgraph") for name in _imports(path))}
    assert users <= {"window", "plots", "report"}


def test_findings_load_without_qt_serial_or_slow_parts() -> None:
    """Opening findings loads neither Qt nor pyserial nor the slow parts of scipy."""
    code = (
        "import sys, bench.command_line.findings, analysis.pedal.findings\n"
        "bad = [m for m in ('PySide6', 'pyqtgraph', 'serial', 'scipy.stats', 'scipy.signal',"
        " 'scipy.optimize') if m in sys.modules]\n"
        "print(bad)")
    assert _printed_by(code) == "[]"


def test_analysis_alone_pulls_in_nothing_of_bench() -> None:
    """All of `analysis` loads in a fresh process without bench, Qt or pyserial."""
    code = (
        "import sys, pkgutil, importlib, analysis\n"
        "for m in pkgutil.walk_packages(analysis.__path__, 'analysis.'):\n"
        "    importlib.import_module(m.name)\n"
        "print([m for m in sys.modules if m.split('.')[0] in ('bench', 'PySide6', 'serial')])")
    assert _printed_by(code) == "[]"


def test_top_level_is_as_agreed() -> None:
    """The repository's top level holds exactly what DEVELOPERS.md says."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True,
                            check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "bench", "analysis", "tests",
        "sample_sweeps", "docs"}


def test_rooms_are_not_halls() -> None:
    """No module is longer than 450 lines."""
    long = [f"{path.relative_to(ROOT)}: {n}" for package in ("analysis", "bench")
            for path in _modules(package)
            if (n := len(path.read_text(encoding="utf-8").splitlines())) > 450]
    assert not long
