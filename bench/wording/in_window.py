"""A message as the window says it: its fields and pages in place of options and commands.

Whoever refuses something below both faces names what the command line calls it; the window, which
has no options, says the same of its own fields.
"""

import re

# What the window calls an option, put so that it reads in the place of its name.
FIELDS = {
    "--map": "the map of the demand",
    "--a": "track a", "--b": "track b", "--supply": "the supply's column",
    "--mark": "the column of marks", "--time": "the column of time",
    "--time-unit": "the unit of time", "--rate": "the readings a second",
    "--readings-in": "the unit of the readings", "--full-scale": "the full scale",
    "--reference-volts": "the volts at full scale", "--supply-volts": "the volts of the supply",
    "--step-volts": "the volts of one step", "--decimal": "the decimal sign",
    "--encoding": "the encoding", "--out": "name", "--store": "folder", "--channel": "the channel",
    "--channels": "the channels", "--calibration": "a calibration", "--apply": "a calibration",
    "--tolerance": "the allowed deviation", "--contactor": "contactor",
    "--entered": "the values entered", "--key-on": "the log", "--sweep": "the sweep",
    "--format": "as", "--set": "the value", "--leave-out": "leaving out",
    "--keep-point": "keeping", "--add-to": "the sweep to add to", "--more": "the page Read",
    "--columns": "the names of the inputs", "--baud": "the speed", "--fed-by": "what feeds it",
    "--processes": "processes", "--by": "who signs", "--delimiter": "the sign between cells",
    "--start-on": "how it is started", "--clock": "the board's clock:", "--role": "the role",
    "--line-baud": "the speed of the line", "--do": "the step", "--forget": "forgetting it",
    "--bits": "the bits of its input", "--shown-unit": "the unit", "--shown": "the value shown",
    "--page": "the page to be signed", "--add": "taking in",
}
PAGES = {"findings": "the page Read", "compare": "the page Read", "settings": "the page Decide",
         "watch": "the page In the car", "sweep": "the page Sweep", "meter": "the page Senders",
         "boards": "the page Wire up", "import": "the page Keep", "export": "the page Keep",
         "report": "the page Keep", "prove": "the page Proof"}
_OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
_COMMAND = re.compile(r"(['`])stillpedal ([a-z]+)[^'`]*\1|"
                      r"\bstillpedal ([a-z]+)\b(?: --from)?(?: (?:'[^']*'|\S+\.csv))?")


def in_window(text: str) -> str:
    """Return a message without any option or command: the window's own words in their place."""
    named = _COMMAND.sub(lambda m: PAGES.get(m[2] or m[3], f"the command {m[2] or m[3]}"), text)
    return _OPTION.sub(lambda m: FIELDS.get(m[0], m[0].strip("-").replace("-", " ")), named)
