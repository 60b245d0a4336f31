"""Write docs/commands.md from the commands' own help; --check says whether it is up to date.

    python docs/make_commands.py [--check]
"""

import argparse
import os
import sys
from pathlib import Path

from analysis.parameters import TABLE, Parameter
from bench.command_line import VERBS, build_parser
from bench.command_line.parameter_options import GROUP
from bench.wording.parameters import WORDS, limits_text, number_text

PAGE = Path(__file__).parent / "commands.md"
HEAD = """# Commands

Made from the commands' own help by `python docs/make_commands.py`; a test checks that it is up to
date. Exit status: 0 done; 1 done, `--strict` was asked and something failed its limit; 2 the
input or the call cannot be used, with one line that says why.

"""
PARAMETERS = """
## Parameters

Every command that analyses takes these. `--help` shows the usual ones, `--help-all` every one. In
the window they stand on the page Decide, those that are not usual under More parameters.

| option | in the window | what it is | limits | default | usual |
|---|---|---|---|---|---|
"""


def page() -> str:
    """Return the page: one section per verb, in the order of the work, the parameters once."""
    # argparse fits its text to the terminal; the page is always 80 wide.
    os.environ["COLUMNS"] = "80"
    whole = build_parser("all")
    verbs = next(a for a in whole._actions if isinstance(a, argparse._SubParsersAction))
    parts = [HEAD, "| command | what it does |\n|---|---|\n"]
    parts += [f"| [`stillpedal {verb}`](#stillpedal-{verb}) | {summary} |\n"
              for verb, (_, summary) in VERBS.items()]
    for verb in VERBS:
        _refer(verbs.choices[verb])
        text = verbs.choices[verb].format_help().rstrip()
        parts.append(f"\n## stillpedal {verb}\n\n```\n{text}\n```\n")
    parts.append(PARAMETERS)
    parts += [_row(row) for row in TABLE.values()]
    return "".join(parts)


def _refer(parser: argparse.ArgumentParser) -> None:
    """Point at the table of the parameters in place of printing them with every verb."""
    for group in parser._action_groups:
        if group.title == GROUP:
            group.description = "those under Parameters, at the end of this page"
            for action in group._group_actions:
                action.help = argparse.SUPPRESS


def _row(row: Parameter) -> str:
    words = WORDS[row.name]
    value = {"volts by track": "TRACK=VOLTS", "yes/no": "",
             "choice": "/".join(row.choices), "points": "POINTS"}.get(row.kind, "N")
    option = f"`{words.option} {value}".rstrip() + "`"
    default = ("as found" if row.kind == "volts by track" else
               "no" if row.kind == "yes/no" else "none" if row.kind == "points" else
               row.default if row.kind == "choice" else
               f"{number_text(row.default)} {row.unit}".rstrip())
    limits = "" if row.kind == "choice" else limits_text(row)
    return (f"| {option} | {words.label} | {words.help} | {limits} | {default} | "
            f"{'yes' if row.usual else ''} |\n")



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
