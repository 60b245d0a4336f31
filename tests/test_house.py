"""The house stands as DEVELOPERS.md draws it: who may import whom, and what loads when."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# Who may import whom, from the top of the house down. A room may import itself and what stands
# in its row; `analysis` is open to all of `bench`.
ROOMS = {
    "bench.command_line": {"bench.jobs", "bench.window", "bench.exports", "bench.boards",
                           "bench.plan", "bench.capture", "bench.recording_file",
                           "bench.recorder", "bench.report", "bench.imports", "bench.wire",
                           "bench.memory", "bench.wording"},
    "bench.window": {"bench.jobs", "bench.figures", "bench.exports", "bench.boards", "bench.plan",
                     "bench.recorder", "bench.imports", "bench.recording_file", "bench.wire",
                     "bench.wording"},
    "bench.jobs": {"bench.recorder", "bench.exports", "bench.report", "bench.imports",
                   "bench.boards", "bench.recording_file", "bench.recording_writer",
                   "bench.recording_header", "bench.wire", "bench.plan", "bench.capture",
                   "bench.calibration_store", "bench.recorder_file", "bench.wording"},
    "bench.boards": {"bench.wire", "bench.recording_file"},
    "bench.wire": set(),
    "bench.recording_file": {"bench.recording_header", "bench.recording_writer",
                             "bench.table_text"},
    "bench.figures": set(),
    "bench.exports": {"bench.wording", "bench.calibration_store", "bench.whole_file"},
    "bench.wording": set(),
}
EVERYWHERE = {"bench.cautions", "bench.errors", "bench.pasted", "bench.version",
              "bench.new_file", "bench.whole_file"}


def _imports(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


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


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_rooms_look_one_way(room: str) -> None:
    """A room imports only the rooms below it."""
    base = ROOT / room.replace(".", "/")
    paths = sorted(base.rglob("*.py")) if base.is_dir() else [base.with_suffix(".py")]
    wrong = []
    for path in paths:
        for name in _imports(path):
            if not name.startswith("bench."):
                continue
            if not any(name == r or name.startswith(f"{r}.")
                       for r in ROOMS[room] | EVERYWHERE | {room}):
                wrong.append(f"{path.relative_to(ROOT)}: {name}")
    assert not wrong


def test_only_one_module_opens_ports() -> None:
    """pyserial is imported in the serial board alone."""
    users = [path.relative_to(ROOT).as_posix() for path in _modules("bench")
             if any(name.split(".")[0] == "serial" for name in _imports(path))]
    assert all(user.startswith("bench/boards/") for user in users)
    assert users


def test_widgets_stay_in_the_window() -> None:
    """Qt is imported in the window, the figures, the report and the picture of a figure only."""
    users = {path.relative_to(ROOT).parts[1] for path in _modules("bench")
             if any(name.split(".")[0] in ("PySide6", "pyqtgraph") for name in _imports(path))}
    assert users <= {"window", "figures", "report"}


def test_findings_load_without_qt_serial_or_slow_parts() -> None:
    """Opening findings loads neither Qt nor pyserial nor the slow parts of scipy."""
    code = (
        "import sys, bench.command_line.findings, bench.jobs.findings, analysis.findings\n"
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
