"""What more than one page of the window says."""

# Said wherever a recording waits for its board.
LOST = "The cable is out: plug it in again."
SOUND_TIP = "The computer's alert sound; silent where the desktop plays none."
OPENING = "Opening the board…"
WAITING = "Waiting for the board…"
NO_ROW = "nothing was recorded; the board sent no row"
CAUTIONS_AND_BOARD = "Read the cautions and connect a board first."
CONNECT = "Connect a board first."
PROOF_RECORDED = "A proof is being recorded."
SWEEP_RECORDED = "A sweep is being recorded."
CAR_LOGGED = "The car is being logged."
OPEN_OR_SWEEP = "Open a recording, or sweep the pedal first."
OF_LAST_TIME = "Names, roles and dividers are those of last time: look at each."
INPUTS_FIRST = "Look at the inputs first."
CANNOT_SHOW_STEP = "Cannot show the next step."
NOT_JUDGED_YET = "The values here are others, and the log has not judged them yet."


def cannot_show(why: str) -> str:
    """Return that a page shows nothing, and why that is better than something."""
    return (f"{why}. Nothing is shown, so that values of another recording cannot be mistaken for "
            "this one's; try the command line.")


def page_fails(title: str, why: str) -> str:
    """Return which page cannot show a recording."""
    return f"The page {title} cannot show this recording: {why}"


def saved(path: str, rows: int, lost: int = 0, key_ons: int | None = None) -> str:
    """Return what stands in a file now. lost: samples. key_ons: of a log."""
    more = f", {lost} samples lost" if lost else ""
    more += f", {key_ons} {'key-on' if key_ons == 1 else 'key-ons'}" if key_ons is not None else ""
    return f"Saved: {path} ({rows} rows{more})."
