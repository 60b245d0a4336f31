"""Change one operator, number or condition at a time and see whether the tests notice.

    python tests/stress/mutants.py                     every mutant of all modules, an hour
    python tests/stress/mutants.py --module pair --each 30 --seed 2     a random sample of one

No file is touched: pytest collects a module's tests once, then for each mutant forks a process
(so not on Windows) that puts the changed code into the loaded functions and runs the tests, those
that killed the mutants before first, then the quickest, up to the first failure. A mutant that no
test kills is equal to the original in result, with its reason in docs/mutants.md, or open: it
shows a missing test, or code that does not matter.
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
REFUSALS = "test_refusals_of_lines_bounds_and_budgets.py"
TESTS = {
    "dead_band": ("test_dead_band_budget_lines.py", "test_dead_band_promise.py", REFUSALS,
                  "test_settings_levels.py"),
    "dead_band_weak": ("test_dead_band_budget_lines.py", "test_dead_band_promise.py", REFUSALS),
    "bounds": ("test_bounds.py", REFUSALS, "test_dead_band_promise.py"),
    "pair": ("test_pair_formulas.py", "test_pair_relation.py", REFUSALS),
    "relations": ("test_pair_relation.py", "test_pair_formulas.py"),
    "straight_line": ("test_straight_line.py", REFUSALS),
    "recording_file": ("test_recording_head_edges.py", "test_recording_damage.py",
                       "test_recording_file.py", "test_small_files_of_great_cost.py"),
    "recording_writer": ("test_recording_writer_edges.py", "test_recording_writer.py"),
    "recorder_time": ("test_recorder_time.py", "test_boards_that_lie.py"),
    "recorder": ("test_recorder.py", "test_recorder_joins_running_board.py",
                 "test_recording_outlives_mishaps.py",
                 "test_recorder_any_order_of_events.py"),
}
# Loaded before the first fork, as the tests and functions load them when they are called.
HEAVY = ("scipy.optimize", "scipy.signal", "scipy.special", "scipy.stats", "toleranceinterval")
SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.And: ast.Or, ast.Or: ast.And, ast.USub: ast.UAdd,
}
PASSED, FAILED, HUNG = "passed", "failed", "hung"


def _source(module: str) -> Path:
    """Return the one file of `analysis`, else of `bench`, of this name."""
    return next(path for house in ("analysis", "bench")
                for path in (ROOT / house).rglob(f"{module}.py"))


@dataclass(frozen=True)
class Mutant:
    """Hold one changed module, and what was changed: "function: before -> after"."""

    tree: ast.Module
    line: int
    change: str


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


def nothing_returned(source: str) -> ast.Module:
    """Return a module that no test can miss: every function returns None."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Return):
            node.value = ast.Constant(None)
    return ast.fix_missing_locations(tree)


def _transplant(old: Any, new: Any) -> None:
    """Give a loaded function, or those of a class, the code and defaults of its mutant."""
    if isinstance(new, types.FunctionType):
        old.__code__, old.__defaults__ = new.__code__, new.__defaults__
    elif isinstance(new, property):
        _transplant(old.fget, new.fget)
    elif hasattr(new, "__wrapped__"):
        _transplant(old.__wrapped__, new.__wrapped__)
    elif isinstance(new, type):
        for name, value in vars(new).items():
            if isinstance(value, types.FunctionType | property):
                _transplant(vars(old)[name], value)


def install(module: str, tree: ast.Module) -> None:
    """Change a loaded module, also where others hold its functions and constants."""
    dotted = ".".join(_source(module).relative_to(ROOT).with_suffix("").parts)
    loaded = sys.modules[dotted]
    made = types.ModuleType(loaded.__name__)
    exec(compile(tree, str(loaded.__file__), "exec"), made.__dict__)
    for name, new in vars(made).items():
        old = vars(loaded)[name]
        if name.startswith("__") or isinstance(old, types.ModuleType):
            continue
        if callable(old):
            if getattr(new, "__module__", "") == loaded.__name__:
                _transplant(old, new)
            continue
        for other in list(sys.modules.values()):
            if other is not made and getattr(other, "__dict__", {}).get(name) is old:
                setattr(other, name, new)


class Run:
    """Be a plugin of pytest that runs the tests of one module for each of its mutants."""

    def __init__(self, module: str, asked: argparse.Namespace, reasons: str) -> None:
        self.module, self.asked, self.reasons = module, asked, reasons
        self.seconds, self.failed = dict[str, float](), ""
        self.killers: list[str] = []
        self.left_open = 1

    def pytest_runtest_logreport(self, report: Any) -> None:
        """Note how long a test takes, and whether it fails."""
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed = report.nodeid

    def judged(self, items: list[Any], tree: ast.Module | None) -> str:
        """Return PASSED, HUNG, FAILED or the test that failed; without a tree, time the tests."""
        def late(item: Any) -> tuple[int, float]:
            name = item.nodeid
            known = self.killers.index(name) if name in self.killers else len(self.killers)
            return known, round(self.seconds.get(name, 0.0), 1)

        items = sorted(items, key=late)
        with tempfile.TemporaryFile("w+") as told:
            child = os.fork()
            if child == 0:
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, 1)
                os.dup2(nowhere, 2)
                signal.signal(signal.SIGPROF, signal.SIG_DFL)
                resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
                try:
                    if tree is not None:
                        install(self.module, tree)
                    for item, after in itertools.zip_longest(items, items[1:]):
                        # Processor time, as other work on the machine must kill no mutant.
                        most = 5.0 + 3.0 * self.seconds.get(item.nodeid, 0.0)
                        signal.setitimer(signal.ITIMER_PROF, most if tree else 600.0)
                        item.ihook.pytest_runtest_protocol(item=item, nextitem=after)
                        if self.failed:
                            break
                    json.dump([self.failed, self.seconds], told)
                finally:
                    told.flush()
                    os._exit(0)
            if os.WIFSIGNALED(os.waitpid(child, 0)[1]):
                return HUNG
            told.seek(0)
            text = told.read()
        failed, seconds = json.loads(text) if text else (FAILED, {})
        if tree is None:
            self.seconds = seconds
        return failed or PASSED

    def pytest_runtestloop(self, session: Any) -> bool:
        """Run every mutant, in place of the tests themselves."""
        source = _source(self.module).read_text(encoding="utf-8")
        asked, begun = self.asked, time.monotonic()
        gc.freeze()  # a child need not look through what it did not make
        plain = self.judged(session.items, None)
        if plain != PASSED:
            print(f"{self.module}: {plain} fails without any change; nothing measured")
            return True
        if self.judged(session.items, nothing_returned(source)) == PASSED:
            print(f"{self.module}: its tests pass although every function returns None")
            return True
        chosen = [m for m in mutants_of(source) if asked.only in m.change]
        if asked.each:
            random.Random(asked.seed).shuffle(chosen)
        count = {"tried": 0, "killed": 0, "equal": 0, "open": 0}
        for mutant in chosen[: asked.each or None]:
            if time.monotonic() - begun > asked.seconds:
                print(f"{self.module}: stopped after {asked.seconds:g} s")
                break
            found = self.judged(session.items, mutant.tree)
            if found in self.seconds:
                self.killers = [found, *(k for k in self.killers if k != found)]
            known = f"`{mutant.change}`" in self.reasons
            verdict = "killed" if found != PASSED else "equal" if known else "open"
            count["tried"] += 1
            count[verdict] += 1
            if verdict == "open" or asked.killers:
                print(f"  {verdict}: {self.module} {mutant.line}: {mutant.change}"
                      + (f"  [{found}]" if asked.killers else ""), flush=True)
        print(f"{self.module}: " + ", ".join(f"{n} {what}" for what, n in count.items())
              + f" of {len(chosen)}; {time.monotonic() - begun:.0f} s", flush=True)
        self.left_open = count["open"]
        return True


def main() -> int:
    """Mutate, test, and list what survived; return 1 when any mutant is open."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--each", type=int, default=0, help="so many per module; 0: every one")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--module", choices=sorted(TESTS), action="append")
    parser.add_argument("--only", default="", help="only changes with this in their text")
    parser.add_argument("--seconds", type=float, default=1e9, help="per module; stop then, say so")
    parser.add_argument("--killers", action="store_true", help="tell what killed each mutant")
    asked = parser.parse_args()
    os.chdir(ROOT)
    os.environ |= {"CI": "1", "OPENBLAS_NUM_THREADS": "1", "QT_QPA_PLATFORM": "offscreen",
                   "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    sys.path.insert(0, str(ROOT))
    for name in HEAVY:
        importlib.import_module(name)
    pytest = importlib.import_module("pytest")
    listed = ROOT / "docs/mutants.md"
    reasons = listed.read_text(encoding="utf-8") if listed.exists() else ""
    left_open = 0
    for module in asked.module or sorted(TESTS):
        run = Run(module, asked, reasons)
        pytest.main(["-q", "-s", "--no-header", "--no-summary", "--tb=native",
                     "-p", "no:cacheprovider", "-m", "not long", f"--rootdir={ROOT}",
                     *(str(next((ROOT / "tests").rglob(name)))
                       for name in TESTS[module])], plugins=[run])
        left_open += run.left_open
    return 1 if left_open else 0


if __name__ == "__main__":
    sys.exit(main())
