"""In the window stand captions; what is a sentence stands in bench/wording, a page's in its file.

No outside source: the rule is the project's own (DEVELOPERS.md, "Where a sentence stands").
"""

import ast
import re
from collections import Counter

import pytest
from places import ROOT
from texts_of_code import texts

# From so many words on a text is no caption, whatever it ends with.
LONG = 8
# What a widget still says by itself, to become less: a number that falls is lowered here too.
LEFT: dict[str, int] = {
    "about.py": 6, "board_controller.py": 1, "car_before.py": 6, "car_read.py": 1,
    "channel_rows.py": 5, "comparison_table.py": 2, "field_trouble.py": 1, "figure_desk.py": 2,
    "finding_list.py": 1, "finding_view.py": 2, "import_dialog.py": 2, "import_table.py": 1,
    "nulling_view.py": 1, "parameter_column.py": 5, "parameter_fields.py": 4, "pictures.py": 1,
    "proof_cautions.py": 1, "proof_detail.py": 1, "proof_list.py": 1, "proof_live_view.py": 4,
    "proof_setup.py": 1, "proof_values.py": 1, "report_process.py": 2, "save_card.py": 1,
    "sender_fields.py": 1, "sweep_picture.py": 1, "sweep_setup.py": 3, "track_scale.py": 2,
    "values_card.py": 5, "worker.py": 2,
}


def is_sentence(text: str) -> bool:
    """Return whether a text of three words is told with values, ends as a sentence, or is long."""
    words = len(re.findall(r"[A-Za-z]{2,}", text))
    if " " not in text or words < 3 or re.search(r"[{;]\s*$|px|^import |^ *Q[A-Z]", text):
        return False
    return "{}" in text or words >= LONG or bool(re.search(r"[.!?]$|[.;:] ", text))


@pytest.mark.parametrize(("text", "told"), [
    ("Connect a board first.", True), ("Track {} has not moved yet", True),
    ("Take the last point back", False), ("&Open a recording…", False), ("What it means", False)])
def test_a_caption_is_told_from_a_sentence(text: str, told: bool) -> None:
    assert is_sentence(text) == told


def test_the_window_holds_captions_only() -> None:
    """No page makes a sentence of its own, and no widget more than are left."""
    found = Counter(path.relative_to(ROOT / "bench/window").as_posix()
                    for path in (ROOT / "bench/window").rglob("*.py")
                    for _, text in texts(ast.parse(path.read_text(encoding="utf-8")))
                    if is_sentence(text))
    assert dict(found) == LEFT
