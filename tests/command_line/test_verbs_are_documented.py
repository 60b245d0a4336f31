"""Every command is documented, and its help works without the test dependencies' help."""

import subprocess
import sys

import pytest
from places import ROOT

from bench.command_line import VERBS, main


@pytest.mark.skipif(sys.version_info >= (3, 13), reason="argparse words its help differently")
def test_command_page_is_up_to_date() -> None:
    """docs/commands.md is what `python docs/make_commands.py` writes."""
    made = subprocess.run([sys.executable, "docs/make_commands.py", "--check"], cwd=ROOT,
                          capture_output=True, text=True, timeout=120, check=False)
    assert made.returncode == 0, made.stdout + made.stderr


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_verb_has_help_and_a_place_in_the_page(verb: str,
                                                     capsys: pytest.CaptureFixture[str]) -> None:
    """`stillpedal VERB --help` works, every option says what it does, the page names the verb."""
    with pytest.raises(SystemExit) as left:
        main([verb, "--help"])
    assert left.value.code == 0
    assert verb in capsys.readouterr().out
    assert f"## stillpedal {verb}\n" in (ROOT / "docs" / "commands.md").read_text("utf-8")


def test_readme_points_at_pages_that_exist() -> None:
    """Every page and picture the README links to is there."""
    import re

    text = (ROOT / "README.md").read_text("utf-8")
    links = re.findall(r"\]\(([^)#]+)\)", text)
    assert links
    assert not [link for link in links if not (ROOT / link).exists()]


def test_ci_runs_the_readme_test_command() -> None:
    """.ci/run holds the README's test command, line for line."""
    readme = (ROOT / "README.md").read_text("utf-8")
    command = next(line.strip() for line in readme.splitlines()
                   if "-m pytest" in line and line.startswith("    python3"))
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert command in script
