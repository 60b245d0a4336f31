"""The face that comes with the program, so that a page looks the same on every machine."""

import functools
import importlib.util
from pathlib import Path

# A package of its own: the files unchanged, under the SIL Open Font License 1.1.
PACKAGE = "fontpkg_pt_serif"


@functools.cache
def own_family() -> str | None:
    """Return the family's name, loaded into Qt; None where its package is not installed.

    Call it once Qt's application exists.
    """
    from PySide6.QtGui import QFontDatabase

    found = importlib.util.find_spec(PACKAGE)
    family = None
    for folder in (found.submodule_search_locations or () if found else ()):
        for file in sorted((Path(folder) / "files").glob("*.ttf")):
            number = QFontDatabase.addApplicationFont(str(file))
            names = QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
            family = family or (names[0] if names else None)
    return family
