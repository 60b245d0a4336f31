"""The card of the last check of a sender: the curve, what it proves, the point it doubts."""

from collections.abc import Callable

from bench.services.sender_check import MeterResult
from bench.services.sender_check_asked import WRONG_POINT
from bench.window.doubted_point import DoubtedPoint
from bench.window.widgets import Card, label
from bench.wording.face import WINDOW, capital
from bench.wording.pages import senders as words
from bench.wording.senders.result import NOT_JUDGED, result_line, what_it_proves
from bench.wording.senders.verdict import verdict_line


class SenderResultCard(Card):
    """Show a result; it stays until another check has begun. answer: whether a point is right."""

    def __init__(self, answer: Callable[[bool], None]) -> None:
        super().__init__()
        self.setAccessibleName("Result of the last check")
        self.name = label("", "quiet", wrap=True)
        self.line = label("", "mid", wrap=True)
        self.line.setAccessibleName(words.RESULT_NAME)
        self.proves = label("", "mend", wrap=True)
        self.proves.setAccessibleName("What these points prove")
        self.judged = label("", wrap=True)
        for made in (self.name, self.line, self.proves, self.judged):
            self.body.addWidget(made)
        self.doubted = DoubtedPoint(answer)
        self.body.addWidget(self.doubted)
        self.body.setSpacing(2)
        self.hide()

    def show_result(self, result: MeterResult | None) -> None:
        """Show a result; hide the card without one."""
        self.setVisible(result is not None)
        if result is None:
            return
        found = result.stored.calibration
        self.name.setText(words.of_channel(result.stored.channel, found.points.count))
        self.line.setText(result_line(result.stored.sender, found))
        proves = what_it_proves(found, result.enough,
                                any(d.name == WRONG_POINT for d in result.diagnoses))
        self.proves.setText(proves)
        self.proves.setVisible(bool(proves))
        self.doubted.ask(result.doubted)
        self.judged.setText("\n".join(
            capital(verdict_line(v, WINDOW)) for v in result.verdicts) or NOT_JUDGED)
