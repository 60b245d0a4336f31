"""The same on every machine: fonts, line ends, names of files, what is delivered."""

import os
import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from places import ROOT

from bench.plots.fonts import PACKAGE, own_family

FONTS = "<?xml version='1.0'?><!DOCTYPE fontconfig SYSTEM 'fonts.dtd'><fontconfig>{}</fontconfig>"
CODE = """
import sys
import tomllib
from importlib import metadata
from pathlib import Path
from bench.services.report import write_report
write_report(Path(sys.argv[1]), Path(sys.argv[2]))
"""


def report_with(folders, tmp_path, name, ending):
    config = tmp_path / f"{name}.conf"
    config.write_text(FONTS.format("".join(f"<dir>{d}</dir>" for d in folders)
                                   + f"<cachedir>{tmp_path / name}</cachedir>"))
    out = tmp_path / f"{name}{ending}"
    done = subprocess.run(
        [sys.executable, "-c", CODE,
         str(ROOT / "sample_sweeps/synthetic_worn_spot_near_rest.csv"), str(out)],
        env=os.environ | {"FONTCONFIG_FILE": str(config), "QT_QPA_PLATFORM": "offscreen",
                          "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return out


# By hand: that the face is our own and travels along is held by the next test and the report's.
@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="fonts are chosen by fontconfig here")
def test_the_page_does_not_hang_on_the_fonts_of_the_machine(tmp_path):
    """Two machines: one without any font, one with faces that are much wider and come first."""
    dejavu = Path("/usr/share/fonts/truetype/dejavu")
    if not dejavu.exists():
        pytest.skip("no second set of fonts here")
    pages = []
    for name, folders in (("bare", []), ("wide", [dejavu])):
        out = report_with(folders, tmp_path, name, ".pdf")
        text = subprocess.run(["pdftotext", "-layout", str(out), "-"], capture_output=True,
                              text=True, check=True).stdout
        faces = subprocess.run(["pdffonts", str(out)], capture_output=True, text=True,
                               check=True).stdout
        assert "PTSerif" in faces.replace("-", "").replace("_", "").replace(" ", "")
        pages.append([line.split() for line in text.splitlines()
                      if "printed" not in line.lower() and str(tmp_path) not in line])
    assert pages[0] == pages[1]


def test_our_face_is_there_and_has_figures_of_one_width(qapp):
    from PySide6.QtGui import QFont, QFontMetricsF

    assert own_family() == "PT Serif", f"install {PACKAGE}"
    metrics = QFontMetricsF(QFont(own_family(), 40))
    assert len({metrics.horizontalAdvance(d) for d in "0123456789"}) == 1


def test_the_licences_of_all_that_is_installed_are_listed_in_docs_and_window():
    """The licences are those that the packages state of themselves (importlib.metadata)."""
    from bench.window.about import OTHERS, others_text

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needed = [*project["dependencies"], *project["optional-dependencies"]["mdf"]]
    page = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    said = {name: licence for names, licence in OTHERS for name in re.findall(r"[\w-]+", names)}
    for parameter in needed:
        name = re.match(r"[\w-]+", parameter)[0]
        assert name in page
        assert said[name].partition("-")[0] in page
        of = metadata.metadata(name)
        stated = " ".join((of.get("License-Expression") or "", of.get("License") or "",
                           *(of.get_all("Classifier") or ())))
        assert said[name].partition("-")[0].rstrip("0123456789.") in stated
    assert "Qt" in others_text()
    assert "LGPL" in others_text()


def test_the_lowest_versions_that_are_tried_are_those_that_are_stated():
    """.ci/versions installs .ci/lowest.txt; pyproject.toml promises what it admits."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    lowest = dict(line.split("==") for line in (ROOT / ".ci/lowest.txt").read_text().splitlines()
                  if line and not line.startswith("#"))
    for need in project["dependencies"]:
        name, bound = re.match(r"([\w-]+)[>=]=([\d.]+)", need).groups()
        assert (lowest[name] + ".0").startswith(bound.rstrip(".")), need


def test_about_shows_the_licences_of_others(qtbot):
    from PySide6.QtWidgets import QPlainTextEdit, QWidget

    from bench.window.about import show_about

    parent = QWidget()
    qtbot.addWidget(parent)
    text = show_about(parent).findChild(QPlainTextEdit).toPlainText()
    assert "Permission is hereby granted" in text
    assert "LGPL-3.0-only" in text
    assert "OFL-1.1" in text
