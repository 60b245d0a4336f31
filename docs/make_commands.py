"""Write docs/commands.md from the commands' own help; --check says whether it is up to date.

    python docs/make_commands.py [--check]
"""

import argparse
import os
import sys
from pathlib import Path

from bench.command_line import VERBS, build_parser

PAGE = Path(__file__).parent / "commands.md"
HEAD = """# Commands

Made from the commands' own help by `python docs/make_commands.py`; a test checks that it is up to
date. Exit status: 0 done; 1 done, `--strict` was asked and something failed its limit; 2 the
input or the call cannot be used, with one line that says why.

"""


def page() -> str:
    """Return the page: one section per verb, in the order of the work."""
    # argparse fits its text to the terminal; the page is always 80 wide.
    os.environ["COLUMNS"] = "80"
    whole = build_parser("all")
    verbs = next(a for a in whole._actions if isinstance(a, argparse._SubParsersAction))
    parts = [HEAD, "| command | what it does |\n|---|---|\n"]
    parts += [f"| [`stillpedal {verb}`](#stillpedal-{verb}) | {summary} |\n"
              for verb, (_, summary) in VERBS.items()]
    for verb in VERBS:
        text = verbs.choices[verb].format_help().rstrip()
        parts.append(f"\n## stillpedal {verb}\n\n```\n{text}\n```\n")
    return "".join(parts)


def main() -> int:
    """Write the page, or compare it."""
    text = page()
    if "--check" in sys.argv[1:]:
        same = PAGE.read_text(encoding="utf-8") == text
        print("up to date" if same else "out of date: run python docs/make_commands.py")
        return 0 if same else 1
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
