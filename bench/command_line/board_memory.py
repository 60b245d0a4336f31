"""What was said of a board before is used again, and what is said now is kept for the next time."""

import argparse
import sys

from bench.errors import BadCall
from bench.services.boards import (
    ChannelOptions,
    Profile,
    is_port,
    keep_profile,
    merged,
    profile_of,
    profile_said,
)


def recall(arguments: argparse.Namespace, where: str = "board") -> Profile | None:
    """Return what is kept of the board that is named; its port, speed and format are put in.

    where: the argument that names it. Says on stderr what is used.
    """
    board = getattr(arguments, where)
    if not is_port(board):
        return None
    from bench.services.boards import identity_of, port_with

    profile = profile_of(board, identity_of(board))
    if profile is None:
        return None
    if board == profile.name:
        setattr(arguments, where, port_with(profile.identity, profile.port))
    if arguments.baud is None:
        arguments.baud = profile.baud
    if arguments.format == "auto":
        arguments.format = profile.format
    print(f"board {profile.name}, as you said before: {profile.said} "
          f"('stillpedal boards --forget {profile.name}' forgets it)", file=sys.stderr)
    return profile


def keep(board: str, said: ChannelOptions, baud: int | None, form: str,
         name: str | None = None) -> Profile | None:
    """Keep what the user said of a board; None when nothing was said. Says so on stderr.

    What cannot be kept is told, and stops nothing: the readings matter more.
    """
    from bench.services.boards import identity_of

    if not is_port(board) or (said == ChannelOptions() and baud is None and form == "auto"
                              and name is None):
        return None
    identity = identity_of(board)
    former = profile_of(board, identity)
    whole = merged(said, former.channels) if former else said
    profile = profile_said(board, identity, whole, baud, form, name)
    if profile == former:
        return profile
    try:
        keep_profile(profile)
    except BadCall as error:
        if name is not None:
            raise
        print(f"note: {error}", file=sys.stderr)
        return None
    print(f"kept for the next time as board {profile.name}: {profile.said}", file=sys.stderr)
    return profile


def recalled(said: ChannelOptions, profile: Profile | None) -> ChannelOptions:
    """Return what is said now over what is kept."""
    return said if profile is None else merged(said, profile.channels)
