"""What the window tells of files and logs as they are opened, saved and used."""

NOT_JUDGED_BY_IT = "This log was not judged by the sweep on show; judge it by that first."
ALLOWANCE_BACK = "The allowance of the log was for other parameters: the assumed one is back."
JUDGING = "Judging the log"
CANNOT_SHOW = "This recording cannot be shown here."

WAIT_FOR_RECORDING = "Something is being recorded: open the job when that is through."


def no_job(name: str) -> str:
    """Return why a folder that was dropped on the window is not opened."""
    return (f"{name} is a folder without a job: drop a recording, or make it a job's folder on "
            "the page Proof.")


def reading(name: str) -> str:
    """Return what is under way while a file is read."""
    return f"Reading {name}"


def saved(path: str) -> str:
    """Return that something stands in a file now, and in which."""
    return f"Saved {path}"


def foreign(name: str) -> str:
    """Return the question about a file of another program."""
    return f"{name} is no recording of this program. Import it as a log of other origin?"


def no_use(why: tuple[str, ...], path: str) -> str:
    """Return why a sweep that was just recorded is of no use."""
    return f"This sweep cannot be used: {'; '.join(why)} (kept: {path})."


def opened(name: str, cut_short_after: int | None, others: str) -> str:
    """Return what has to be known of a recording as it opens, "" for nothing.

    cut_short_after: rows of a file that had been cut short. others: the parameters that differ.
    """
    said = []
    if cut_short_after is not None:
        said.append(f"{name} had been cut short; every whole row of it is used "
                    f"({cut_short_after} rows).")
    if others:
        said.append(f"{name} is read with parameters of yours (page Decide): {others}.")
    return " ".join(said)


def stating_feed(name: str) -> str:
    """Return what is under way while the answer about the feed is written."""
    return f"Stating the feed of {name}"
