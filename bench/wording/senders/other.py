"""Any sender, read as volts."""

from collections.abc import Mapping

from bench.wording.face import Words

TITLE = "any sender, read as volts"
EQUATION = "shown = volts at the input"
WIRING = ("sender's output -> board's input; grounds joined at one point; never more than the "
          "board's limit on the input")
WORDS: Mapping[str, str | Words] = {}
