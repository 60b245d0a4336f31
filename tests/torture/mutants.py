"""Change one operator, number or condition at a time and see whether the tests notice.

    python tests/torture/mutants.py                     every mutant of four modules, a quarter hour
    python tests/torture/mutants.py --module pair --each 30 --seed 2     a random sample of one

No file is touched: a process that has the heavy libraries loaded forks for each mutant (so not on
Windows), puts the changed module in place of the real one and runs its tests, quickest first, up
to the first failure. A mutant that no test kills is equal to the original in result, with its
reason in docs/mutants.md, or open: it shows a missing test, or code that does not matter. Do not
edit `analysis` or `tests` during a run.
"""

import argparse
import ast
import copy
import gc
import importlib
import itertools
import json
import os
import random
import resource
import signal
import sys
import tempfile
import time
import types
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
# The most specific tests first.
TESTS = {
    "deadband": ("test_deadband.py", "test_analysis_corners.py", "test_settings.py"),
    "bounds": ("test_bounds.py", "test_analysis_corners.py", "test_deadband.py"),
    "pair": ("test_pair.py", "test_analysis_corners.py", "test_sample_sweeps.py"),
    "straight_line": ("test_straight_line.py", "test_analysis_corners.py"),
}
# Loaded once, before the first fork. Nothing of the project: it must meet the changed module.
HEAVY = ("pytest", "hypothesis", "hypothesis.strategies",
         "numpy.testing", "scipy.linalg", "scipy.optimize", "scipy.signal", "scipy.special",
         "scipy.stats", "odrpack", "toleranceinterval")
SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.And: ast.Or, ast.Or: ast.And, ast.USub: ast.UAdd,
}
PASSED, FAILED, HUNG = "passed", "failed", "hung"


@dataclass(frozen=True)
class Mutant:
    """Hold one changed module, and what was changed: "function: before -> after"."""

    tree: ast.Module
    line: int
    change: str


class Watch:
    """Run the quickest tests of each file first, and note how long each takes."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds, self.seen = seconds, dict[str, float]()
        self.killer = ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Put those below a tenth of a second first; the others keep to their files' order."""
        def slow(item: Any) -> float:
            taken = self.seconds.get(item.nodeid, 0.0)
            return taken if taken > 0.1 else 0.0
        items.sort(key=slow)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """Add up set-up, call and tear-down."""
        self.seen[report.nodeid] = self.seen.get(report.nodeid, 0.0) + report.duration
        if report.failed and not self.killer:
            self.killer = report.nodeid


def walk(node: ast.AST, inside: str = "", above: ast.AST | None = None,
         ) -> Iterator[tuple[ast.AST, str, ast.AST | None]]:
    """Yield every node but annotations, with its function's name and its parent."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = node.name
    yield node, inside, above
    for name, value in ast.iter_fields(node):
        if name not in ("annotation", "returns"):
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from walk(child, inside, node)


def change(node: ast.AST, which: int = 0) -> bool:
    """Change a node in place, one of a chain of comparisons; return whether that can be done."""
    if isinstance(node, ast.Compare):
        if which >= len(node.ops) or type(node.ops[which]) not in SWAPS:
            return False
        node.ops = [SWAPS[type(op)]() if k == which else op for k, op in enumerate(node.ops)]
    elif which > 0:
        return False
    elif isinstance(node, ast.BinOp | ast.UnaryOp | ast.BoolOp) and type(node.op) in SWAPS:
        node.op = SWAPS[type(node.op)]()
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.01
    elif isinstance(node, ast.If | ast.IfExp | ast.While):
        node.test = ast.UnaryOp(ast.Not(), node.test)
    else:
        return False
    return True


def _words(node: ast.AST, above: ast.AST | None) -> str:
    """Return the node in one line, with what stands around it when it is short."""
    parts = [node]
    if isinstance(above, ast.expr | ast.Assign | ast.AnnAssign | ast.Return | ast.AugAssign):
        parts.insert(0, above)
    lines = [ast.unparse(part).splitlines()[0] for part in parts]
    return next((text for text in lines if len(text) <= 90), lines[-1][:90])


def mutants_of(source: str) -> list[Mutant]:
    """Return every mutant of a module that differs from it."""
    found = []
    places = [(place, which) for place, (node, _, _) in enumerate(walk(ast.parse(source)))
              for which in range(2) if change(copy.copy(node), which)]
    for place, which in places:
        tree = ast.parse(source)
        node, inside, above = next(itertools.islice(walk(tree), place, None))
        bare, before = ast.unparse(node), _words(node, above)
        change(node, which)
        ast.fix_missing_locations(tree)
        if ast.unparse(node) != bare:
            found.append(Mutant(tree, node.lineno,
                                f"{inside or 'module'}: {before} -> {_words(node, above)}"))
    return found


def _install(module: str, tree: ast.Module) -> None:
    """Load a changed module in place of the real one, before anything has loaded that."""
    name = f"analysis.{module}"
    made = types.ModuleType(name)
    made.__file__ = str(ROOT / "analysis" / f"{module}.py")
    sys.modules[name] = made
    importlib.import_module("analysis")
    setattr(sys.modules["analysis"], module, made)
    exec(compile(tree, made.__file__, "exec"), made.__dict__)


def judged(module: str, tree: ast.Module | None, timed: Path, most_seconds: float) -> str:
    """Return PASSED, HUNG or the test that failed; without a tree note the tests' times."""
    told, output = timed.with_suffix(".killer"), timed.with_suffix(".output")
    told.unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        code = 1
        try:
            written = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(written, 1)
            os.dup2(written, 2)
            # Processor time, as other work on the machine must kill no mutant.
            signal.signal(signal.SIGPROF, signal.SIG_DFL)
            signal.setitimer(signal.ITIMER_PROF, most_seconds)
            resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
            if tree is not None:
                _install(module, tree)
            watch = Watch(json.loads(timed.read_text()) if timed.exists() else {})
            import pytest
            code = int(pytest.main(
                ["-x", "-q", "--tb=native", "-p", "no:cacheprovider",
                 "-m", "not long", f"--rootdir={ROOT}",
                 *(str(ROOT / "tests" / name) for name in TESTS[module])], plugins=[watch]))
            told.write_text(watch.killer)
            if tree is None:
                timed.write_text(json.dumps(watch.seen))
        except BaseException as error:
            print(repr(error))
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    status = os.waitpid(child, 0)[1]
    if os.WIFSIGNALED(status):
        return HUNG
    if os.WEXITSTATUS(status) == 0:
        return PASSED
    return (told.read_text() if told.exists() else "") or FAILED


def nothing_returned(source: str) -> ast.Module:
    """Return a module that no test can miss: every function returns None."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Return):
            node.value = ast.Constant(None)
    return ast.fix_missing_locations(tree)


def main() -> int:
    """Mutate, test, and list what survived."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--each", type=int, default=0, help="so many per module; 0: every one")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--module", choices=sorted(TESTS), action="append")
    parser.add_argument("--only", default="", help="only changes with this in their text")
    parser.add_argument("--seconds", type=float, default=1e9, help="stop then, and say so")
    parser.add_argument("--killers", action="store_true", help="tell what killed each mutant")
    asked = parser.parse_args()
    begun = time.monotonic()
    os.chdir(ROOT)
    os.environ |= {"CI": "1", "OPENBLAS_NUM_THREADS": "1", "QT_QPA_PLATFORM": "offscreen",
                   "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    sys.path.insert(0, str(ROOT))
    for name in HEAVY:
        importlib.import_module(name)
    gc.freeze()  # a child need not look through what it did not make
    listed = ROOT / "docs/mutants.md"
    reasons = listed.read_text(encoding="utf-8") if listed.exists() else ""
    left_open = 0
    with tempfile.TemporaryDirectory() as folder:
        # What the first child compiles, the others read; nothing is left in the project.
        sys.pycache_prefix, sys.dont_write_bytecode = folder, False
        for module in asked.module or sorted(TESTS):
            source = (ROOT / "analysis" / f"{module}.py").read_text(encoding="utf-8")
            timed = Path(folder) / module
            if judged(module, None, timed, 600.0) != PASSED:
                print(timed.with_suffix(".output").read_text()[-2000:])
                print(f"{module}: its tests fail without any change; nothing measured")
                left_open += 1
                continue
            limit = 20.0 + 3.0 * sum(json.loads(timed.read_text()).values())
            if judged(module, nothing_returned(source), timed, limit) == PASSED:
                print(f"{module}: its tests pass although every function returns None")
                left_open += 1
                continue
            chosen = [m for m in mutants_of(source) if asked.only in m.change]
            possible = len(chosen)
            if asked.each:
                random.Random(asked.seed).shuffle(chosen)
            count = {"tried": 0, "killed": 0, "equal": 0, "open": 0}
            for mutant in chosen[: asked.each or None]:
                if time.monotonic() - begun > asked.seconds:
                    print(f"{module}: stopped after {asked.seconds:g} s")
                    break
                found = judged(module, mutant.tree, timed, limit)
                known = f"`{mutant.change}`" in reasons
                verdict = "killed" if found != PASSED else "equal" if known else "open"
                count["tried"] += 1
                count[verdict] += 1
                if verdict == "open" or asked.killers:
                    print(f"  {verdict}: {module} {mutant.line}: {mutant.change}"
                          + (f"  [{found}]" if asked.killers else ""), flush=True)
            left_open += count["open"]
            print(f"{module}: " + ", ".join(f"{n} {what}" for what, n in count.items())
                  + f" of {possible}; {time.monotonic() - begun:.0f} s", flush=True)
    return 1 if left_open else 0


if __name__ == "__main__":
    sys.exit(main())
