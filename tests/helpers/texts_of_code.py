"""The literals of a module, for tests of where a sentence may stand."""

import ast
from collections.abc import Iterator


def texts(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Return line and text of every literal but docstrings, an f-string with {} for each value."""
    nodes = [n for n in ast.walk(tree) if isinstance(n, ast.Expr | ast.JoinedStr | ast.Constant)]
    # What stands alone as a statement is a docstring.
    passed = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    passed |= {id(part) for node in nodes if isinstance(node, ast.JoinedStr)
               for part in node.values}
    for node in nodes:
        if isinstance(node, ast.JoinedStr):
            yield node.lineno, "".join(str(part.value) if isinstance(part, ast.Constant) else "{}"
                                       for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) \
                and id(node) not in passed:
            yield node.lineno, node.value
