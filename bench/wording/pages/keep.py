"""What the window's page Keep says."""

OPEN_ABOUT = ("Drop a recording anywhere on this window, choose a file, or pick a recent one and "
              "press Enter.")
FOREIGN_TIP = "From an oscilloscope, a data logger, your own script"
UNDER_TIP = "The state before the opened recording: Read compares both"
BEFORE_ABOUT = ("An earlier recording of the same pedal: Read has both in a table and along "
                "travel.")
SAY_COLUMNS = "Say what each column is, then import it."
OPEN = "Open a recording."
OPEN_MORE = "Any recording of the pedal, old or new."
NOT_YET = "Save the values, but do not enter them yet."
SAVE = "Save the values before you walk to the car."
NOTHING_SHOWN = "On show: nothing"
SAVE_ABOUT = "Files are written beside the recording; a recording itself is never written over."
TEMPLATE_TIP = "Fill a text of your own: {start_of_travel.a} and the like"


def saved_says_so(what: str) -> str:
    """Return what is first to be seen to, and that what is saved says so."""
    return f"{what} What is saved here says so too."


def saved_warns(warning: str) -> str:
    """Return the warning that what is saved carries."""
    return f"What is saved warns too: {warning}"


def into(path: str) -> str:
    """Return where the values go."""
    return f"They go into {path}"


def no_template(path: str, why: str) -> str:
    """Return that a template cannot be read."""
    return f"cannot read {path} ({why}); choose a text file"
