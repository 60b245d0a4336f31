"""Every kind of sheet is what is stored: a change of words or numbers is seen before it is landed.

After a change on purpose: `python tests/helpers/whole_sheets.py`, and read the diff. No outside
source: the sheets are the program's own, held against themselves.
"""

import difflib

from whole_sheets import STORED, settled, sheets


def test_every_sheet_is_as_stored() -> None:
    """Findings, settings in every format, logs, comparison and report, word for word."""
    stored = {path.name: path.read_text(encoding="utf-8") for path in STORED.iterdir()}
    made = {name: settled(text) for name, text in sheets()}
    assert made.keys() == stored.keys()
    changed = [line for name, text in made.items()
               for line in difflib.unified_diff(stored[name].splitlines(), text.splitlines(),
                                                f"stored {name}", f"made {name}", "", "", 0, "")]
    assert not changed, "\n".join(changed[:60])
