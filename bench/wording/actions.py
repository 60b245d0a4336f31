"""What stands on the button that does the next step, by the code of what it does."""

from collections.abc import Mapping
from typing import Literal

# What a button does; the pages act by these words, whatever stands on the button.
Action = Literal[
    "", "accept cautions", "connect", "stop opening", "disconnect", "inputs right", "wire up",
    "to the sweep", "start sweep", "sweep again", "open", "choose a file", "decide", "turn live",
    "stop turning", "save values", "save text", "start log",
    "log again", "judge log", "judge log again", "to the log", "start check", "choose job",
    "take sweep", "take log", "open job file", "start proof", "next prompt", "keep entered",
    "sign page"]

# Codes of a sweep that leave something open which another sweep proves; their sentences ask for it.
ANOTHER_SWEEP = frozenset({
    "few returns", "few rest readings", "short rest", "noise not measured", "no lift-off",
    "short of the stop", "not compared", "hum", "overlooked track", "switch silent",
    "costly dead band", "off at rest", "catches at rest", "return off the others", "rest creeps",
    "promise withdrawn", "not enough", "doubt",
    "rest end not known", "rest end assumed", "hangs on its way"})

LABELS: Mapping[Action, str] = {
    "": "",
    "accept cautions": "All of this is so",
    "connect": "Connect",
    "stop opening": "Stop",
    "disconnect": "Disconnect",
    "inputs right": "They are right",
    "wire up": "Wire up",
    "to the sweep": "Go to the sweep",
    "start sweep": "Start the sweep",
    "sweep again": "Sweep again",
    "open": "Open a recording",
    "choose a file": "Open a recording…",
    "decide": "Decide what to set",
    "turn live": "Turn it live",
    "stop turning": "Done",
    "save values": "Save the values",
    "save text": "Save as text",
    "start log": "Start the log",
    "log again": "Log again",
    "judge log": "Judge it by the sweep on show",
    "judge log again": "Judge the log again",
    "to the log": "To the log",
    "start check": "Start the check",
    "choose job": "Choose a folder…",
    "take sweep": "Take in the sweep on show",
    "take log": "Take in the log on show",
    "open job file": "Open it",
    "start proof": "Start this proof",
    "next prompt": "Next",
    "keep entered": "Keep what it shows",
    "sign page": "Sign and save",
}
