"""The guided sweep as a strip: what the pedal is asked to do, and how far it is."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from bench.plan import Plan
from bench.window.skin import LIGHT, Skin

EDGE = 8
# Height of the asked-for pedal at the start and end of each prompt, 0 rest, 1 floored.
LEVELS = {"rest": (0.0, 0.0), "press": (0.0, 1.0), "hold": (1.0, 1.0), "release": (1.0, 0.0)}


class PlanStrip(QWidget):
    """Draw the plan as the pedal's course over time; what is behind is drawn bold."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("The sweep, step by step")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMinimumHeight(74)
        self.skin: Skin = LIGHT
        self._plan: Plan | None = None
        self._at = 0.0

    def sizeHint(self) -> QSize:
        return QSize(600, 74)

    def show_plan(self, plan: Plan | None) -> None:
        """Show a plan from its beginning."""
        self._plan, self._at = plan, 0.0
        self.update()

    def show_time(self, seconds: float) -> None:
        """Move the mark of now."""
        if self._plan is not None and round(seconds, 1) != round(self._at, 1):
            self._at = seconds
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plan = self._plan
        if plan is None or not plan.prompts:
            painter.setPen(QColor(self.skin.quiet))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter,
                             "No steps: it is recorded until it ends or you stop it.")
            return
        ends = [*(p.start_s for p in plan.prompts[1:]), plan.end_s]
        for prompt, end in zip(plan.prompts, ends, strict=True):
            box = QRectF(self._x(prompt.start_s), 0, self._x(end) - self._x(prompt.start_s),
                         self.height())
            now = prompt.start_s <= self._at < end
            shade = QColor(self.skin.picked if now else self.skin.window)
            painter.fillRect(box, shade)
        self._course(painter, plan, ends, plan.end_s, QPen(QColor(self.skin.quiet), 1.5,
                                                          Qt.PenStyle.DotLine))
        self._course(painter, plan, ends, self._at, QPen(QColor(self.skin.accent), 3))
        painter.setPen(QPen(QColor(self.skin.text), 2))
        x = self._x(min(self._at, plan.end_s))
        painter.drawLine(QPointF(x, 0), QPointF(x, self.height()))

    def _x(self, seconds: float) -> float:
        assert self._plan is not None
        return EDGE + (self.width() - 2 * EDGE) * min(seconds / self._plan.end_s, 1.0)

    def _course(self, painter: QPainter, plan: Plan, ends: list[float], until: float,
                pen: QPen) -> None:
        points = []
        low, high = self.height() - 12.0, 12.0
        for prompt, end in zip(plan.prompts, ends, strict=True):
            if prompt.start_s > until:
                break
            first, last = LEVELS[prompt.kind]
            stop = min(end, until)
            share = (stop - prompt.start_s) / max(end - prompt.start_s, 1e-9)
            for seconds, level in ((prompt.start_s, first),
                                   (stop, first + share * (last - first))):
                points.append(QPointF(self._x(seconds), low + (high - low) * level))
        painter.setPen(pen)
        painter.drawPolyline(QPolygonF(points))
