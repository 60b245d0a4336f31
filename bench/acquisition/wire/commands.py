"""What the host may say to a board: one short ASCII line each; a sketch may ignore them all."""

from bench.errors import BadCall

# command -> (lowest, highest number it takes, or None), what it asks for
COMMANDS: dict[str, tuple[tuple[int, int] | None, str]] = {
    "?": (None, "say what you are: send a hello now"),
    "start": (None, "send readings"),
    "stop": (None, "send no readings"),
    "rate": ((1, 1_000_000), "take that many rows per second"),
    "channels": ((1, 16), "read that many inputs, from the first on"),
    "oversample": ((1, 256), "sum that many conversions per reading (1, 4, 16: 0, 1, 2 more bits)"),
    "text": (None, "send text lines"),
    "frames": (None, "send checked frames"),
    "baud": ((300, 4_000_000), "go to that speed after the answer line"),
}


def command(name: str, number: int | None = None) -> bytes:
    """Return the line that gives a board this command; raise BadCall for one it cannot take."""
    if name not in COMMANDS:
        raise BadCall(f"no board command {name!r}; there are {', '.join(COMMANDS)}")
    limits = COMMANDS[name][0]
    if limits is None:
        if number is not None:
            raise BadCall(f"board command {name!r} takes no number, not {number}")
        return f"{name}\n".encode("ascii")
    if number is None or not limits[0] <= number <= limits[1]:
        raise BadCall(
            f"board command {name!r} got {number}; give a number from {limits[0]} to {limits[1]}")
    return f"{name} {number}\n".encode("ascii")
