"""The sweep as one picture: what is asked as a pale ribbon, the real pedal drawn over it.

While it runs now stands still and time passes under it: what was done lies to the left, what is
coming to the right. Before and after, the whole plan lies there. Where no reading came the picture
is hatched: nothing is drawn across it.
"""

import collections
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from pyqtgraph.functions import create_qpolygonf, ndarray_from_qpolygonf
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetricsF,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.model.recording import Array
from bench.plots.live import Trail
from bench.services.record import Plan, Prompt
from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin
from bench.wording.pages.sweep import NO_PLAN

# Turns track volts of rows into shares of travel, both of shape (n, tracks).
Travel = Callable[[Array], Array]
# Seconds behind and ahead of now.
BEHIND_S, AHEAD_S = 9.0, 6.5
# Height of the asked-for pedal at the start and end of each prompt: 0 at rest, 1 all the way down.
LEVELS = {"rest": (0.0, 0.0), "press": (0.0, 1.0), "hold": (1.0, 1.0), "release": (1.0, 0.0)}
SHALLOW = 0.5
# Of travel, what is shown above and below it.
TOP, BOTTOM = 1.22, -0.16
RIBBON_EM = 1.1
# A line of fewer points is as quickly drawn at its own width.
FEW_POINTS = 200
# The plan's time and the recording's are read one after the other; only what they differ by more
# was a wait.
WAITED_S = 0.12
SHORT = {"rest": "leave it", "press": "press", "hold": "hold", "release": "let it come back"}
SHALLOW_SHORT = {"press": "half way", "hold": "hold there"}


@dataclass(frozen=True)
class Now:
    """Hold where a running sweep stands: the recording's time, the plan's, and the plan."""

    time_s: float
    elapsed_s: float
    plan: Plan | None


def levels_of(prompt: Prompt) -> tuple[float, float]:
    """Return the asked-for pedal at the start and the end of a prompt, shares of travel."""
    start, end = LEVELS[prompt.kind]
    return (min(start, SHALLOW), min(end, SHALLOW)) if prompt.shallow else (start, end)


def course(plan: Plan) -> tuple[Array, Array]:
    """Return the plan's times and the pedal asked for at them, each of shape (n,)."""
    times: list[float] = []
    levels: list[float] = []
    ends = [*(p.start_s for p in plan.prompts[1:]), plan.end_s]
    for prompt, end in zip(plan.prompts, ends, strict=True):
        times += [prompt.start_s, end]
        levels += levels_of(prompt)
    return np.array(times), np.array(levels)


class SweepPicture(QWidget):
    """Paint the plan and the pedal; painted: how often so far."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("The plan as a ribbon, and the pedal drawn over it")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(300, 130)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.skin: Skin = LIGHT
        self.painted = 0
        self.plan: Plan | None = None
        self._starts: list[float] = []
        self._course = np.empty(0), np.empty(0)
        self.columns: tuple[str, ...] = ()
        self.trail: Trail | None = None
        self._asked: collections.deque[tuple[float, float, float]] = collections.deque(
            maxlen=400)
        self._now: Now | None = None
        self._travel: Travel | None = None

    def sizeHint(self) -> QSize:
        return QSize(900, 320)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.skin = skin
        self.update()

    def show_plan(self, plan: Plan | None) -> None:
        """Show a whole plan, with nothing done yet; None: there is none."""
        self._set_plan(plan)
        self._now, self.trail, self._travel = None, None, None
        self._asked.clear()
        self.update()

    def begin(self, columns: tuple[str, ...], rate_hz: float | None) -> None:
        """Begin to draw tracks of these names."""
        self.columns = columns
        self.trail = Trail(len(columns), BEHIND_S, rate_hz)
        self._asked.clear()

    def show_now(self, now: Now, travel: Travel | None) -> None:
        """Move on to now; `travel` turns track volts into shares of travel."""
        if now.plan is not self.plan:
            self._set_plan(now.plan)
        self._now, self._travel = now, travel
        if now.plan is not None and now.time_s > (self._asked[-1][2] if self._asked else -1.0):
            self._ask(now.time_s, now.elapsed_s)
        self.update()

    def _ask(self, time_s: float, elapsed_s: float) -> None:
        """Lengthen the course asked for; it goes on level where the plan waited."""
        if self._asked:
            begun_s, at_s, _ = self._asked[-1]
            if abs((time_s - begun_s) - (elapsed_s - at_s)) < WAITED_S:
                self._asked[-1] = begun_s, at_s, time_s
                return
        self._asked.append((time_s, elapsed_s, time_s))

    def past(self, until_s: float) -> tuple[Array, Array]:
        """Return the course asked for up to now: the recording's times, and shares of travel."""
        times, levels = self._course
        found: list[tuple[Array, Array]] = []
        for begun_s, at_s, ended_s in self._asked:
            if ended_s < until_s - BEHIND_S - 1.0:
                continue
            inside = times[(times > at_s) & (times < at_s + ended_s - begun_s)]
            when = np.concatenate([[at_s], inside, [at_s + ended_s - begun_s]])
            found.append((when - at_s + begun_s, np.interp(when, times, levels)))
        if not found:
            return np.empty(0), np.empty(0)
        return np.concatenate([t for t, _ in found]), np.concatenate([v for _, v in found])

    def _set_plan(self, plan: Plan | None) -> None:
        self.plan = plan
        self._starts = [] if plan is None else [p.start_s for p in plan.prompts]
        self._course = (np.empty(0), np.empty(0)) if plan is None else course(plan)

    # From here on: painting. x in pixels of seconds, y in pixels of shares of travel.
    def paintEvent(self, _event: QPaintEvent) -> None:
        self.painted += 1
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.skin.card))
        one = em(1)
        box = QRectF(7.2 * one, 0.4 * one, self.width() - 7.8 * one, self.height() - 2.2 * one)
        self._levels(painter, box)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._now is None:
            self._whole_plan(painter, box, one)
        else:
            self._running(painter, box, one, self._now)

    @staticmethod
    def _y(box: QRectF, share: Array) -> Array:
        clipped = np.clip(share, BOTTOM, TOP)
        return box.bottom() - (clipped - BOTTOM) / (TOP - BOTTOM) * box.height()

    def _levels(self, painter: QPainter, box: QRectF) -> None:
        painter.setPen(QPen(QColor(self.skin.edge), 1))
        for share, text in ((0.0, "at rest"), (SHALLOW, "half way"), (1.0, "all the way")):
            y = float(self._y(box, np.array(share)))
            painter.setPen(QPen(QColor(self.skin.edge), 1))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            painter.setPen(QColor(self.skin.quiet))
            painter.drawText(QRectF(0, y - 20, box.left() - 8, 40),
                             Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)

    def _ribbon(self, painter: QPainter, box: QRectF, x: Array, share: Array,
                wide: float) -> None:
        if x.size < 2:
            return
        painter.setPen(QPen(self.pale(), wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap,
                            Qt.PenJoinStyle.BevelJoin))
        # So broad and pale, its edge needs no smoothing, which takes most of the time.
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.drawPolyline(_polygon(x, self._y(box, share)))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)

    @staticmethod
    def _ribbon_wide(box: QRectF) -> float:
        """Return the ribbon's width: no broader than lets its course be seen."""
        return min(RIBBON_EM * em(1), 0.14 * box.height())

    def pale(self) -> QColor:
        """Return the accent, three quarters of the way to the ground: opaque costs half as much."""
        ink, ground = QColor(self.skin.accent), QColor(self.skin.card)
        return QColor(*(round(0.25 * a + 0.75 * b) for a, b in zip(
            (ink.red(), ink.green(), ink.blue()),
            (ground.red(), ground.green(), ground.blue()), strict=True)))

    def _whole_plan(self, painter: QPainter, box: QRectF, one: float) -> None:
        if self.plan is None or not self.plan.prompts:
            painter.setPen(QColor(self.skin.quiet))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter,
                             NO_PLAN)
            return
        times, levels = self._course
        scale = box.width() / self.plan.end_s
        self._ribbon(painter, box, box.left() + times * scale, levels, 0.45 * one)
        painter.setPen(QColor(self.skin.quiet))
        under = QRectF(box.left(), box.bottom() + 0.3 * one, box.width(), 1.5 * one)
        painter.drawText(under, Qt.AlignmentFlag.AlignRight, f"{self.plan.end_s:.0f} s in all")

    def _running(self, painter: QPainter, box: QRectF, one: float, now: Now) -> None:
        scale = box.width() / (BEHIND_S + AHEAD_S)
        at = box.left() + BEHIND_S * scale
        painter.save()
        painter.setClipRect(box)
        when, share = self.past(now.time_s)
        self._ribbon(painter, box, at + (when - now.time_s) * scale, share, self._ribbon_wide(box))
        if now.plan is not None:
            self._ahead(painter, box, at, scale, one, now)
        self._gaps(painter, box, at, scale, now)
        self._pedal(painter, box, at, scale, now)
        painter.restore()
        painter.setPen(QPen(QColor(self.skin.text), 2))
        painter.drawLine(QPointF(at, box.top()), QPointF(at, box.bottom()))
        self._under(painter, box, at, one)

    def _ahead(self, painter: QPainter, box: QRectF, at: float, scale: float, one: float,
               now: Now) -> None:
        assert now.plan is not None
        times, levels = self._course
        later = (times > now.elapsed_s) & (times < now.elapsed_s + AHEAD_S + 3.0)
        first = float(np.interp(now.elapsed_s, times, levels))
        x = at + np.concatenate([[0.0], times[later] - now.elapsed_s]) * scale
        shares = np.concatenate([[first], levels[later]])
        self._ribbon(painter, box, x, shares, self._ribbon_wide(box))
        painter.setPen(QColor(self.skin.quiet))
        room = QFontMetricsF(painter.font())
        prompts = now.plan.prompts
        # Of a long plan only these few are ever in view.
        first_seen = bisect_right(self._starts, now.elapsed_s)
        last_seen = bisect_right(self._starts, now.elapsed_s + AHEAD_S)
        for number in range(first_seen, last_seen):
            prompt = prompts[number]
            begin = at + (prompt.start_s - now.elapsed_s) * scale
            if not at + 0.5 * one < begin < box.right():
                continue
            end_s = prompts[number + 1].start_s if number + 1 < len(prompts) else now.plan.end_s
            text = (SHALLOW_SHORT if prompt.shallow else {}).get(
                prompt.kind, "turn" if prompt.by_hand and prompt.kind == "press" else
                SHORT[prompt.kind])
            wide = min((end_s - prompt.start_s) * scale, box.right() - begin) - 4
            # A low picture has no room for words above the ribbon.
            if room.horizontalAdvance(text) < wide and box.height() > 8 * one:
                painter.drawText(QPointF(begin + 4, box.top() + 1.1 * one), text)
            painter.drawLine(QPointF(begin, box.top()), QPointF(begin, box.top() + 0.5 * one))

    def _gaps(self, painter: QPainter, box: QRectF, at: float, scale: float, now: Now) -> None:
        if self.trail is None:
            return
        for start, end in self.trail.gaps(now.time_s):
            left = at + (start - now.time_s) * scale
            right = at + (end - now.time_s) * scale
            if right < box.left():
                continue
            hole = QRectF(QPointF(max(left, box.left()), box.top()), QPointF(right, box.bottom()))
            painter.fillRect(hole, QColor(self.skin.card))
            painter.fillRect(hole, QBrush(QColor(self.skin.mend), Qt.BrushStyle.BDiagPattern))
            text = f"no readings {end - start:.1f} s"
            wide = QFontMetricsF(painter.font()).horizontalAdvance(text) + 12
            if hole.width() < wide:
                text, wide = f"{end - start:.1f} s", 60.0
            label = QRectF(0, 0, wide, 26)
            label.moveCenter(hole.center())
            label.moveRight(min(label.right(), box.right()))
            painter.fillRect(label, QColor(self.skin.card))
            painter.setPen(QColor(self.skin.mend))
            painter.drawText(label, Qt.AlignmentFlag.AlignCenter, text)

    def _pedal(self, painter: QPainter, box: QRectF, at: float, scale: float, now: Now) -> None:
        if self.trail is None or self._travel is None:
            return
        times, low, high = self.trail.lines()
        if not times.size:
            return
        first, second = self._travel(low), self._travel(high)
        x = at + (times - now.time_s) * scale
        for track in range(first.shape[1]):
            color = self.skin.look.track(track)
            # Tracks that agree lie on each other: the first is broad, so that both are seen.
            wide = 2.0 if track else 4.5
            # The middle of a bin less than a pixel wide; its ends where they are apart.
            a, b = self._y(box, first[:, track]), self._y(box, second[:, track])
            for piece in self.trail.pieces(times):
                _stroke(painter, _zigzag(x[piece], a[piece], b[piece]), color, wide)
            if now.time_s - self.trail.now_s < self.trail.gap_s:
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(color)
                size = 5.0 if track else 9.0
                painter.drawEllipse(QPointF(at, 0.5 * float(a[-1] + b[-1])), size, size)
                painter.setBrush(Qt.BrushStyle.NoBrush)

    def _under(self, painter: QPainter, box: QRectF, at: float, one: float) -> None:
        under = QRectF(box.left(), box.bottom() + 0.3 * one, box.width(), 1.5 * one)
        painter.setPen(QColor(self.skin.quiet))
        painter.drawText(QRectF(at - 60, under.top(), 120, under.height()),
                         Qt.AlignmentFlag.AlignHCenter, "now")
        painter.drawText(under, Qt.AlignmentFlag.AlignRight, f"the next {AHEAD_S:.0f} s")
        left = under.left()
        for track, column in enumerate(self.columns):
            painter.setPen(QPen(self.skin.look.track(track), 2.0 if track else 4.5))
            y = under.top() + 0.6 * one
            painter.drawLine(QPointF(left, y), QPointF(left + 2 * one, y))
            painter.setPen(QColor(self.skin.text))
            text = f"track {column}"
            painter.drawText(QPointF(left + 2.4 * one, y + 0.4 * one), text)
            left += 3.6 * one + QFontMetricsF(painter.font()).horizontalAdvance(text)


def _polygon(x: Array, y: Array) -> QPolygonF:
    made = create_qpolygonf(x.size)
    points = ndarray_from_qpolygonf(made)
    points[:, 0], points[:, 1] = x, y
    return made


def _stroke(painter: QPainter, line: QPolygonF, color: QColor, wide: float) -> None:
    """Draw a line of many points by fine ones beside each other.

    A smooth line of one pixel takes a fortieth of the time that a wider one of so many points
    does, whose outline is made anew at each of them.
    """
    if line.size() < FEW_POINTS:
        painter.setPen(QPen(color, wide))
        painter.drawPolyline(line)
        return
    painter.setPen(QPen(color, 1.0))
    radius = 0.5 * (wide - 1.0)
    while radius > 0.0:
        for turn in np.arange(6) * (np.pi / 3.0):
            painter.drawPolyline(line.translated(radius * np.cos(turn), radius * np.sin(turn)))
        radius -= 1.0
    painter.drawPolyline(line)


def _zigzag(x: Array, a: Array, b: Array) -> QPolygonF:
    """Return one point for each bin, two where its ends lie apart; what lies straight is thinned.

    Stroking costs by the point: a point within half a pixel of the line past it is not seen.
    """
    apart = np.abs(a - b) > 1.5
    count = np.where(apart, 2, 1)
    xs = np.repeat(x, count)
    ys = np.repeat(np.where(apart, a, 0.5 * (a + b)), count)
    last = np.cumsum(count) - 1
    ys[last[apart]] = b[apart]
    for _ in range(3):
        if xs.size < 8:
            break
        kept = np.ones(xs.size, dtype=bool)
        odd = slice(1, -1, 2)
        # Only every other one: its neighbours stay, so that errors do not add up.
        kept[odd] = np.abs(ys[odd] - 0.5 * (ys[:-2:2] + ys[2::2])[:ys[odd].size]) > 0.5
        xs, ys = xs[kept], ys[kept]
    return _polygon(xs, ys)
