"""What to check when a board sends nothing at all."""


def silent_board_words(port: str, baud: str) -> str:
    """Return what to look at, in the order of how often it is that."""
    return (f"Nothing came from {port} at {baud} baud. Is the board powered, is this its port, "
            "does it run its sketch, and is the speed the sketch's?")
