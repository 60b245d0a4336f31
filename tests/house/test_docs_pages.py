"""Every page can be reached, every link leads somewhere, and what the guide names is there."""

import re
from pathlib import Path

from places import ROOT

PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md"),
                *(ROOT / "sample_sweeps").glob("*.md")])
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")


def _links(page: Path) -> set[Path]:
    found = LINK.findall(page.read_text(encoding="utf-8"))
    return {(page.parent / target).resolve() for target in found if "://" not in target}


def test_every_link_leads_somewhere() -> None:
    broken = [f"{page.relative_to(ROOT)}: {target}" for page in PAGES for target in _links(page)
              if not target.exists()]
    assert not broken


def test_every_page_is_reached_from_the_readme() -> None:
    seen: set[Path] = set()
    ahead = [ROOT / "README.md"]
    while ahead:
        page = ahead.pop()
        if page not in seen:
            seen.add(page)
            ahead += [link for link in _links(page) if link.suffix == ".md" and link.exists()]
    assert {p for p in PAGES if p.parent == ROOT / "docs"} <= seen


def test_the_index_lists_every_page() -> None:
    listed = _links(ROOT / "docs" / "README.md")
    missing = [p.name for p in (ROOT / "docs").glob("*.md")
               if p.name != "README.md" and p not in listed]
    assert not missing


def test_what_the_guide_tells_to_touch_is_there() -> None:
    """Each file that DEVELOPERS.md names exists, and no task asks for more than three."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.split("## To add")[1].split("## Habits")[0]
    rows = [line.split("|")[1:3] for line in table.splitlines() if line.startswith("| ")][1:]
    assert len(rows) >= 10
    for _task, row in rows:
        named = re.findall(r"`([\w./]+)`", row)
        assert 1 <= len(named) <= 3, row
        for name in named:
            if re.search(r"/[A-Z]+\.py$", name):
                assert (ROOT / name).parent.is_dir(), name
            else:
                assert (ROOT / name).exists() or (ROOT / "analysis" / name).exists(), name


def test_the_guide_of_the_house_is_read_in_five_minutes() -> None:
    """At 240 words a minute (Brysbaert 2019: 238 for adults reading silently; from memory)."""
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split()) <= 5 * 240


def test_no_task_of_a_newcomer_takes_more_files_than_wanted() -> None:
    """The page of the fifteen tasks has them all, each within its count."""
    page = (ROOT / "docs" / "newcomer.md").read_text(encoding="utf-8")
    rows = [line.strip("|").split("|") for line in page.splitlines() if line.startswith("| ")][1:]
    assert len(rows) == 15
    assert not [row[0] for row in rows if int(re.findall(r"\d+", row[3])[0]) > int(row[4])]


def test_every_file_that_a_page_names_is_there() -> None:
    """A module, script or test named by its path in a page can be opened."""
    path = re.compile(r"(?<![\w/.])((?:analysis|bench|tests|docs)/[\w./]*\.(?:py|md|json))\b")
    stale = [f"{page.relative_to(ROOT)}: {name}" for page in PAGES
             for name in path.findall(page.read_text(encoding="utf-8"))
             if not re.search(r"/[A-Z_]+\.\w+$", name) and not (ROOT / name).exists()]
    assert not stale
