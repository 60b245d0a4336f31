"""Change one operator, number or condition at a time and see whether the tests notice.

    python tests/torture/mutants.py --each 12 --seed 1      a sample of 12 per module, some minutes
    python tests/torture/mutants.py --each 0                every mutant; hours

Works on a copy of the packages and tests in a temporary folder. A mutant that no test kills is
printed with its line: it either does the same (another equal form) or shows a missing test.
"""

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = {
    "deadband": ("test_deadband.py", "test_settings.py"),
    "bounds": ("test_bounds.py", "test_deadband.py"),
    "pair": ("test_pair.py", "test_sample_sweeps.py"),
    "straight_line": ("test_straight_line.py", "test_analysis_corners.py"),
}
SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.And: ast.Or, ast.Or: ast.And, ast.USub: ast.UAdd,
}


def sites(tree: ast.AST) -> list[tuple[int, str]]:
    """Return (number in walking order, what) of everything that can be changed."""
    found = []
    for place, node in enumerate(ast.walk(tree)):
        if isinstance(node, ast.BinOp | ast.UnaryOp | ast.BoolOp) and type(node.op) in SWAPS:
            found.append((place, "operator"))
        elif isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
            found.append((place, "comparison"))
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            found.append((place, "number"))
        elif isinstance(node, ast.If | ast.IfExp):
            found.append((place, "condition"))
    return found


def mutant(tree: ast.Module, place: int) -> tuple[str, str]:
    """Return the changed source, and one line on what was changed."""
    changed = copy.deepcopy(tree)
    node = list(ast.walk(changed))[place]
    before = ast.unparse(node).splitlines()[0]
    if isinstance(node, ast.BinOp | ast.UnaryOp | ast.BoolOp):
        node.op = SWAPS[type(node.op)]()
    elif isinstance(node, ast.Compare):
        node.ops[0] = SWAPS[type(node.ops[0])]()
    elif isinstance(node, ast.Constant):
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.01
    elif isinstance(node, ast.If | ast.IfExp):
        node.test = ast.UnaryOp(ast.Not(), node.test)
    line = f"line {node.lineno}: {before[:60]}  ->  {ast.unparse(node).splitlines()[0][:60]}"
    return ast.unparse(ast.fix_missing_locations(changed)), line


def killed(folder: Path, tests: tuple[str, ...]) -> bool:
    """Return whether a test fails; a mutant that hangs counts as killed."""
    names = [f"tests/{t}" for t in tests if (folder / "tests" / t).exists()]
    try:
        return subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *names],
            cwd=folder, capture_output=True, timeout=150, check=False,
            env=os.environ | {"PYTHONDONTWRITEBYTECODE": "1"}).returncode != 0
    except subprocess.TimeoutExpired:
        return True


def main() -> int:
    """Mutate, test, and list what survived."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--each", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--module", choices=sorted(TESTS), action="append")
    parser.add_argument("--seconds", type=float, default=1e9, help="stop then, and say so")
    asked = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in ("analysis", "bench", "tests", "sample_sweeps", "docs"):
            shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns(
                "__pycache__", "*.png"))
        shutil.copy(ROOT / "pyproject.toml", folder)
        for module in asked.module or sorted(TESTS):
            path = folder / "analysis" / f"{module}.py"
            source = path.read_text(encoding="utf-8")
            tree = ast.parse(source)
            if killed(folder, TESTS[module]):
                print(f"{module}: its tests fail without any change; nothing measured")
                continue
            places = sites(tree)
            all_of_them = len(places)
            random.Random(asked.seed).shuffle(places)
            dead, tried = 0, 0
            for place, _ in places[: asked.each or None]:
                if time.monotonic() - begun > asked.seconds:
                    break
                text, line = mutant(tree, place)
                path.write_text(text, encoding="utf-8")
                tried += 1
                if killed(folder, TESTS[module]):
                    dead += 1
                else:
                    print(f"  survived: {module} {line}", flush=True)
            path.write_text(source, encoding="utf-8")
            print(f"{module}: {dead} of {tried} killed ({all_of_them} possible)", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
