"""No module of the product outgrows its page, and no function its branches.

The measure of branches is McCabe's cyclomatic number as the lizard tool counts it, each `and`,
`or` and conditional expression among them; 20 is common practice (no source). ruff's C901 leaves
those out and passes functions that nobody follows at first reading.
"""

import lizard
import pytest
from places import ROOT

MOST_LINES = 400
MOST_BRANCHES = 20
# Module -> lines it may have, and why it is not split. Take a row out once it is.
MAY_BE_LONGER: dict[str, tuple[int, str]] = {}
MODULES = [p for top in ("analysis", "bench") for p in sorted((ROOT / top).rglob("*.py"))]


def test_no_module_is_longer_than_its_page():
    lengths = {p.relative_to(ROOT).as_posix(): p.read_text(encoding="utf-8").count("\n")
               for p in MODULES}
    assert not {name: lines for name, lines in lengths.items()
                if lines > MAY_BE_LONGER.get(name, (MOST_LINES, ""))[0]}
    assert all(lengths.get(name, 0) > MOST_LINES for name in MAY_BE_LONGER)


@pytest.mark.parametrize("top", ["analysis", "bench"])
def test_no_function_has_more_branches(top):
    found = [f"{path.relative_to(ROOT)}:{each.start_line} {each.name} has "
             f"{each.cyclomatic_complexity}"
             for path in MODULES if path.relative_to(ROOT).parts[0] == top
             for each in lizard.analyze_file(str(path)).function_list
             if each.cyclomatic_complexity > MOST_BRANCHES]
    assert not found
