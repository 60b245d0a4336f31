"""Options that changed their name: the old one still works, and help shows only the new."""

import argparse
from typing import Any


def accept_too(group: "argparse.ArgumentParser | argparse._ArgumentGroup", old: str, dest: str,
               **how: Any) -> None:
    """Accept `old` for what a newer option of this `dest` says; `how`: type or action as there."""
    group.add_argument(old, dest=dest, default=argparse.SUPPRESS, help=argparse.SUPPRESS, **how)
