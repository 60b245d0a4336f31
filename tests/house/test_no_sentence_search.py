"""No program text finds out anything by reading a sentence: what is found is a code and values."""

import ast
import re

import pytest
from places import ROOT

# What holds a sentence. A mark's text is what a board or a person wrote, and no sentence of ours.
SENTENCES = frozenset({"text", "why", "weak", "sentence", "sentences", "verdict", "warnings",
                       "notes", "doubt", "forbidding", "stale"})
OF_A_MARK = frozenset({"mark", "m"})
SEARCHES = frozenset({"startswith", "endswith", "find", "rfind", "index", "count", "replace",
                      "removeprefix", "removesuffix", "partition", "rpartition", "split"})
# What these modules make is for a person to read.
SPEAKERS = ("bench.wording.", "bench.window.finding_view.")
# Words with a space between or around them: a phrase, which only a sentence (or a mark) holds.
PHRASE = re.compile(r"[A-Za-z]{2,} [A-Za-z]|^ [A-Za-z]|[A-Za-z.] $")
# (file, function): why what it reads is no sentence, or why it may be read.
MAY: dict[tuple[str, str], str] = {
    ("bench/wording/face.py", "first_sentence"): "a headline is the first sentence; how a "
                                                 "sentence ends is the wording's own",
    ("bench/acquisition/boards/serial_board.py", "_why_not"): "the serial library says on Windows "
                                                              "in words only what went wrong",
    ("bench/window/notice.py", "leave"): "it looks for the name of a file, not for a word",
    ("analysis/proof/steps.py", "_read"): "the marks of a proof are what a board or a person wrote",
    ("analysis/simulation/proof_car.py", "_piece"): "the marks of a proof, the other way round",
}


class _Walk(ast.NodeVisitor):
    """Collect the lines of one module on which a sentence is searched."""

    def __init__(self, path: str = "") -> None:
        self.path, self.found, self.allowed = path, list[int](), set[tuple[str, str]]()
        self.speakers, self.caught = set[str](), {"error", "err", "e", "exception", "trouble"}
        self.held: list[set[str]] = [set()]
        self.within: list[str] = [""]

    def visit_ImportFrom(self, node: ast.ImportFrom) -> None:
        if f"{node.module}.".startswith(SPEAKERS):
            self.speakers |= {a.asname or a.name for a in node.names if a.name.islower()}

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self.held.append(set())
        self.within.append(node.name)
        self.generic_visit(node)
        self.within.pop()
        self.held.pop()

    def visit_ExceptHandler(self, node: ast.ExceptHandler) -> None:
        self.caught |= {node.name} if node.name else set()
        self.generic_visit(node)

    def visit_Assign(self, node: ast.Assign) -> None:
        self.generic_visit(node)
        for target in node.targets:
            for name in ast.walk(target):
                if isinstance(name, ast.Name):
                    (self.held[-1].add if self._is_sentence(node.value)
                     else self.held[-1].discard)(name.id)

    def visit_Compare(self, node: ast.Compare) -> None:
        for operator, right in zip(node.ops, node.comparators, strict=True):
            if isinstance(operator, ast.In | ast.NotIn) and (
                    (self._is_sentence(right) and (isinstance(
                        node.left, ast.Constant | ast.JoinedStr | ast.Attribute | ast.Call)
                        or isinstance(right, ast.Call)))
                    or (_phrase(node.left) and _one_text(right))):
                self._note(node)
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        if (isinstance(node.func, ast.Attribute) and node.func.attr in SEARCHES
                # A split at white space puts a message of several lines into one.
                and not (node.func.attr == "split" and not node.args)
                and not _of_a_mark(node.func.value) and not _escapes(node)
                and (self._is_sentence(node.func.value)
                     or (node.args and _phrase(node.args[0])))):
            self._note(node)
        self.generic_visit(node)

    def _note(self, node: ast.expr) -> None:
        place = (self.path, self.within[-1])
        if place in MAY:
            self.allowed.add(place)
        else:
            self.found.append(node.lineno)

    def _is_sentence(self, node: ast.expr) -> bool:
        """Return whether an expression is a sentence, or what was made of one by a method."""
        if isinstance(node, ast.Subscript):
            return self._is_sentence(node.value)
        if isinstance(node, ast.Name):
            return node.id in self.held[-1]
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Attribute):
                return self._is_sentence(node.func.value)
            if not isinstance(node.func, ast.Name):
                return False
            # str(error): the sentence of an exception.
            return node.func.id in self.speakers or (
                node.func.id == "str" and bool(node.args) and isinstance(node.args[0], ast.Name)
                and node.args[0].id in self.caught)
        if not isinstance(node, ast.Attribute) or node.attr not in SENTENCES:
            return False
        return not _of_a_mark(node)


def _of_a_mark(node: ast.expr) -> bool:
    """Return whether it is the text of a mark."""
    return (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
            and node.value.id in OF_A_MARK)


def _escapes(node: ast.Call) -> bool:
    """Return whether it only replaces signs that are no words, such as % by %%."""
    return (isinstance(node.func, ast.Attribute) and node.func.attr == "replace"
            and bool(node.args) and isinstance(node.args[0], ast.Constant)
            and not re.search(r"[A-Za-z]|\. ", str(node.args[0].value)))


def _phrase(node: ast.expr) -> bool:
    """Return whether a literal is a phrase: words that only a sentence would hold."""
    return any(isinstance(part, ast.Constant) and isinstance(part.value, str)
               and bool(PHRASE.search(part.value)) for part in ast.walk(node))


def _one_text(node: ast.expr) -> bool:
    """Return whether it may be one text, and no list of codes."""
    return isinstance(node, ast.Subscript | ast.JoinedStr) or (
        isinstance(node, ast.Call) and getattr(node.func, "id", "") == "str")


def searches(tree: ast.AST, path: str = "") -> _Walk:
    """Return what a walk over a module found, and which rows of MAY it needed."""
    walk = _Walk(path)
    walk.visit(tree)
    return walk


@pytest.mark.parametrize("line", [
    "'rests ' in said.text", "s.text.startswith('New: ')", "'--columns' in str(error)",
    "f.text in log.verdict.text", "band.weak.startswith('the pedal')",
    "findings.verdict[0].startswith('Do not')", "text = said.why.replace('a', 'b')",
    "'sweep again' in not_proven[0]", "first, _, rest = said[0].partition('. ')",
    "number.replace(' play', '')", "scale.replace('at the sensor', 'at the input', 1)",
    "from bench.wording.refusals import refused\n'in' in refused(x)",
    "from bench.wording.short import short_line\nsaid = short_line(f)\nsaid.startswith('x')",
    "try:\n    f()\nexcept OSError as bad:\n    'full' in str(bad)",
    "str(path) in str(error)"])
def test_a_search_is_seen(line: str) -> None:
    """What this house once did is found by the walk."""
    assert searches(ast.parse(line)).found


def test_a_marks_text_is_no_sentence() -> None:
    """What a person wrote at a mark is read; that is what it is for."""
    assert not searches(ast.parse("mark.text.strip().lower().startswith('gap')")).found


@pytest.mark.parametrize("line", ["'one track' in codes", "'rows' in columns", "a.split(',')"])
def test_a_code_or_a_cell_is_no_sentence(line: str) -> None:
    """What is looked up in a list of codes, or cut out of a table, is not read as a sentence."""
    assert not searches(ast.parse(line)).found


def test_no_sentence_is_searched() -> None:
    """Nothing in the product reads a sentence to find out what it says; no row of MAY is idle."""
    wrong, allowed = [], set()
    for package in ("analysis", "bench"):
        for path in sorted((ROOT / package).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            walk = searches(ast.parse(path.read_text(encoding="utf-8")), name)
            wrong += [f"{name}:{line}" for line in walk.found]
            allowed |= walk.allowed
    assert not wrong
    assert allowed == set(MAY)
