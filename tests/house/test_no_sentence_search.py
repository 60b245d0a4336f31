"""No program text finds out anything by reading a sentence: what is found is a code and values."""

import ast
from pathlib import Path

import pytest
from places import ROOT

# What holds a sentence. A mark's text is what a board or a person wrote, and no sentence of ours.
SENTENCES = frozenset({"text", "why", "weak", "sentence", "sentences", "verdict", "warnings",
                       "notes", "doubt", "forbidding", "stale"})
OF_A_MARK = frozenset({"mark", "m"})
SEARCHES = frozenset({"startswith", "endswith", "find", "rfind", "index", "count", "replace",
                      "removeprefix", "removesuffix", "partition", "rpartition", "split"})


def _is_sentence(node: ast.expr) -> bool:
    """Return whether an expression is a sentence, or what was made of one by a method."""
    if isinstance(node, ast.Subscript):
        return _is_sentence(node.value)
    if isinstance(node, ast.Call):
        if isinstance(node.func, ast.Attribute):
            return _is_sentence(node.func.value)
        named = isinstance(node.func, ast.Name) and node.func.id == "str" and node.args
        # str(error): the sentence of an exception.
        return bool(named) and isinstance(node.args[0], ast.Name) and (
            node.args[0].id in ("error", "err", "e", "exception", "trouble"))
    if not isinstance(node, ast.Attribute) or node.attr not in SENTENCES:
        return False
    return not (isinstance(node.value, ast.Name) and node.value.id in OF_A_MARK)


def searches(tree: ast.AST) -> list[int]:
    """Return the lines on which a sentence is searched."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            for operator, right in zip(node.ops, node.comparators, strict=True):
                if isinstance(operator, ast.In | ast.NotIn) and _is_sentence(right) and isinstance(
                        node.left, ast.Constant | ast.JoinedStr | ast.Attribute):
                    found.append(node.lineno)
        elif (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
              and node.func.attr in SEARCHES and _is_sentence(node.func.value)
              # A split at white space puts a message of several lines into one.
              and not (node.func.attr == "split" and not node.args)):
            found.append(node.lineno)
    return found


@pytest.mark.parametrize("line", [
    "'rests ' in said.text", "s.text.startswith('New: ')", "'--columns' in str(error)",
    "f.text in log.verdict.text", "band.weak.startswith('the pedal')",
    "findings.verdict[0].startswith('Do not')", "text = said.why.replace('a', 'b')"])
def test_a_search_is_seen(line: str) -> None:
    """What this house once did is found by the walk."""
    assert searches(ast.parse(line))


def test_a_marks_text_is_no_sentence() -> None:
    """What a person wrote at a mark is read; that is what it is for."""
    assert not searches(ast.parse("mark.text.strip().lower().startswith('gap')"))


@pytest.mark.parametrize("package", ["analysis", "bench"])
def test_no_sentence_is_searched(package: str) -> None:
    """Nothing in the product reads a sentence to find out what it says."""
    wrong = [f"{path.relative_to(ROOT)}:{line}"
             for path in sorted((ROOT / package).rglob("*.py"))
             for line in searches(ast.parse(Path(path).read_text(encoding="utf-8")))]
    assert not wrong
