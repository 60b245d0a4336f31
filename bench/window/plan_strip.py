"""The guided sweep as a strip: what the pedal is asked to do, and how far it is."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from bench.services.record import Plan
from bench.window.theme import LIGHT, Skin

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
        self._pictures: tuple[QPixmap, QPixmap] | None = None

    def sizeHint(self) -> QSize:
        return QSize(600, 74)

    def show_plan(self, plan: Plan | None) -> None:
        """Show a plan from its beginning."""
        self._plan, self._at = plan, 0.0
        self._pictures = None
        self.update()

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.skin = skin
        self._pictures = None
        self.update()

    def show_time(self, seconds: float) -> None:
        """Move the mark of now."""
        if self._plan is not None and round(seconds, 1) != round(self._at, 1):
            self._at = seconds
            self.update()

    def resizeEvent(self, _event: QResizeEvent) -> None:
        self._pictures = None

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        plan = self._plan
        if plan is None or not plan.prompts:
            painter.setPen(QColor(self.skin.quiet))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter,
                             "No steps: it is recorded until it ends or you stop it.")
            return
        if self._pictures is None:
            # Drawn once: a plan of hundreds of strokes must not cost anything while recording.
            self._pictures = (self._picture(plan, QPen(QColor(self.skin.quiet), 1.5,
                                                       Qt.PenStyle.DotLine)),
                              self._picture(plan, QPen(QColor(self.skin.accent), 3)))
        ahead, behind = self._pictures
        x = self._x(self._at)
        painter.drawPixmap(0, 0, ahead)
        painter.save()
        painter.setClipRect(QRectF(0, 0, x, self.height()))
        painter.drawPixmap(0, 0, behind)
        painter.restore()
        painter.setPen(QPen(QColor(self.skin.text), 2))
        painter.drawLine(QPointF(x, 0), QPointF(x, self.height()))

    def _x(self, seconds: float) -> float:
        assert self._plan is not None
        return EDGE + (self.width() - 2 * EDGE) * min(seconds / self._plan.end_s, 1.0)

    def _picture(self, plan: Plan, pen: QPen) -> QPixmap:
        sharp = self.devicePixelRatioF()
        picture = QPixmap(self.size() * sharp)
        picture.setDevicePixelRatio(sharp)
        picture.fill(QColor(self.skin.window))
        low, high = self.height() - 12.0, 12.0
        points = []
        ends = [*(p.start_s for p in plan.prompts[1:]), plan.end_s]
        for prompt, end in zip(plan.prompts, ends, strict=True):
            for seconds, level in zip((prompt.start_s, end), LEVELS[prompt.kind], strict=True):
                points.append(QPointF(self._x(seconds), low + (high - low) * level))
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(pen)
        painter.drawPolyline(QPolygonF(points))
        painter.end()
        return picture
