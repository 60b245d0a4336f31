"""Lead a person through a sweep: prompt, watch, help, and end when enough is there."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from analysis.model.finding import USE
from analysis.model.pedal_kind import BY_HAND
from bench.acquisition.guided_plan import Plan, Prompt
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder
from bench.acquisition.sweep_judge import SweepJudge, Tally
from bench.wording.face import TERMINAL, Face
from bench.wording.guided import guide_words

# A pause of the board's time longer than this is no time in which the person was prompted.
_PAUSE_S = 0.5
# A pedal that is to be let go is waited for so long, and no longer.
PATIENCE_S = 15.0
# When the prompt was to leave it alone: the first rest, of which every later one is a return.
FIRST_REST_S = 1.5
# Let go for so long, so that the last return can be told from one that passes by.
SETTLED_S = 0.8
# A press that was not seen is asked for again so often, then the plan goes on.
MOST_AGAIN = 3
# Presses that did not count are asked for again at the end, at most so many.
MOST_MORE = 6


class Guide(Listener):
    """Lead through a plan: mark each prompt as it is shown, and stop when enough was seen.

    Being late does no harm: a press that was not seen is asked for again, the next one waits until
    the pedal is back, PATIENCE_S at most, and presses that did not count are asked for once more
    at the end. helps: False for a simulated or replayed pedal, which hears no prompt; it is
    followed by the clock. face: who is told. elapsed_s: where the plan stands, in its own time.
    hint: what is the matter at the pedal now, in words, "" for nothing.
    vital: where no prompt can be shown any more nobody presses, and nothing else would stop.
    """

    vital = True

    def __init__(self, plan: Plan, show: Callable[[Prompt], None], helps: bool = True,
                 face: Face = TERMINAL) -> None:
        self.plan = plan
        self.hint = ""
        self.recorder: Recorder | None = None
        self.elapsed_s = 0.0
        self.judge: SweepJudge | None = None
        self._helps = helps
        self._face = face
        self._show = show
        self._last: float | None = None
        self._tracks: list[int] = []
        self._factor = self._offset = np.empty(0)
        self._now = Prompt(0.0, "rest")
        self._again = 0
        self._waited_s = 0.0
        self._asked_back = self._told_still = False
        self._away_s = -SETTLED_S
        self._extended = self._over = False
        self._wanted = sum(p.kind == "press" for p in plan.prompts)
        self._wanted_quick = sum(p.kind == "press" and p.quick for p in plan.prompts)
        # The rest up to which presses were counted; the first one is no return.
        self._counted_s = 0.0

    @property
    def wanted(self) -> int:
        """Return how many presses and returns the plan asks for."""
        return self._wanted

    @property
    def wanted_lift_offs(self) -> int:
        """Return how many of them are to end in a lift-off."""
        return self._wanted_quick

    @property
    def accepted(self) -> int:
        """Return how many of them counted so far."""
        return 0 if self.judge is None else self.judge.accepted

    @property
    def tally(self) -> Tally:
        """Return what counted so far, by kind."""
        return Tally() if self.judge is None else self.judge.tally

    @property
    def whole(self) -> bool:
        """Return whether all that was asked for counts, on every track."""
        tally = self.tally
        return (self.judge is not None and not self.judge.still
                and tally.presses >= self._wanted - self._wanted_quick
                and tally.lift_offs >= self._wanted_quick)

    def ended(self, error: str | None) -> None:
        """Count the last return where the readings end with it."""
        self._end_cycle()

    def started(self, source: Source) -> None:
        """Show what is asked for at once."""
        self._tracks = [k for k, c in enumerate(source.channels) if c.role == "track"]
        tracks = [source.channels[k] for k in self._tracks]
        self._factor = np.array([c.pin_volts_per_reading * c.scale for c in tracks])
        self._offset = np.array([c.offset_volts for c in tracks])
        self.judge = SweepJudge(tracks, source.rate_hz)
        self._ask(-1.0, 0.0)

    def rows(self, rows: Rows) -> None:
        """Go on by the time that these rows took; a pulled cable holds the plan up."""
        times = rows.time_s if self._last is None else np.append(self._last, rows.time_s)
        steps = np.diff(times)
        passed = float(steps[steps <= _PAUSE_S].sum())
        self._last = float(times[-1])
        judge = self.judge
        if judge is not None:
            judge.passed(float(steps.max(initial=0.0)))
            pressed = next((p.start_s for p in self.plan.prompts if p.kind == "press"), 0.0)
            judge.take(rows.readings[:, self._tracks] * self._factor + self._offset,
                       self.elapsed_s <= min(FIRST_REST_S, 0.6 * pressed))
        self._go_on(passed)
        if self._away():
            self._away_s = self.elapsed_s
        if self.elapsed_s < self.plan.end_s - 1e-6 or self.recorder is None:
            return
        settled = self.elapsed_s - self._away_s >= SETTLED_S
        if not settled and self.elapsed_s < self.plan.end_s + PATIENCE_S:
            if not self._asked_back:
                self._asked_back = True
                self.recorder.mark("rest")
                self._show(Prompt(self.plan.end_s, "rest"))
            return
        if not self._more_needed():
            self.recorder.stop()

    def _go_on(self, passed_s: float) -> None:
        """Move on in the plan; stay where a press is missing or the pedal is not back."""
        before = self.elapsed_s
        following = self.plan.next_after(before)
        due = following is not None and following.start_s <= before + passed_s
        if due and self._helps and self.judge is not None:
            assert following is not None
            if self._now.kind == "hold" and not self.judge.pressed:
                self._press_again()
                return
            if self._now.kind == "hold":
                self._clear()
            if following.kind == "press" and not self._back_in_time(passed_s):
                return
        self.elapsed_s = before + passed_s
        self._ask(before, self.elapsed_s)

    def _press_again(self) -> None:
        """Ask for the press once more; where none comes at all, say what that may be."""
        press = max((p for p in self.plan.prompts
                     if p.kind == "press" and p.start_s <= self.elapsed_s),
                    key=lambda p: p.start_s)
        if self._again >= MOST_AGAIN:
            # Nobody there, or nothing connected: the plan ends by its clock.
            self._helps = False
            return
        self._again += 1
        self._tell("press unseen" if self._again == 1 else "press still unseen")
        self.elapsed_s = press.start_s - 1e-6
        self._ask(self.elapsed_s, press.start_s)
        self.elapsed_s = press.start_s

    def _back_in_time(self, passed_s: float) -> bool:
        """Return whether the next press may be asked for: the pedal is back, or never will be."""
        assert self.judge is not None
        if self._now.kind != "rest" or self.judge.back or self._waited_s >= PATIENCE_S:
            self._waited_s = 0.0
            self._clear()
            return True
        if self._waited_s == 0.0:
            self._tell("not back")
        self._waited_s += passed_s
        return False

    def _more_needed(self) -> bool:
        """Add presses for those that did not count, once; return whether there are any."""
        judge = self.judge
        if judge is None or self._over:
            return False
        self._end_cycle()
        missing = min(self.wanted - judge.accepted, MOST_MORE)
        if not self._helps or self._extended or judge.still or missing <= 0 or not judge.accepted:
            self._over = True
            return False
        self._extended = True
        self._tell("more presses", short=judge.short, left_pressed=judge.left_pressed,
                   torn=judge.torn, more=missing)
        quick = min(max(self._wanted_quick - judge.tally.lift_offs, 0), missing)
        self.plan = _with_more(self.plan, missing - quick, quick, self.elapsed_s + 0.1)
        self._asked_back = False
        return True

    def _ask(self, after_s: float, until_s: float) -> None:
        for prompt in self.plan.due(after_s, until_s):
            if prompt.kind == "press" and self.judge is not None:
                self._end_cycle()
                self.judge.begin_press()
            self._now = prompt
            if self.recorder is not None:
                self.recorder.mark(prompt.kind)
            self._show(prompt)

    def _end_cycle(self) -> None:
        """Count the press that is over, and say once when a track stood still in it."""
        judge = self.judge
        if judge is None or self._now.kind != "rest" or self._now.start_s <= self._counted_s:
            return
        self._counted_s = self._now.start_s
        before = max((p for p in self.plan.prompts
                      if p.kind == "press" and p.start_s < self._now.start_s),
                     key=lambda p: p.start_s, default=None)
        judge.end_cycle(before is not None and before.shallow, before is not None and before.quick)
        if judge.pressed:
            self._again = 0
        if judge.still and not self._told_still and self._helps:
            self._told_still = True
            self._tell("one track still", tracks=judge.still)

    def _away(self) -> bool:
        """Return whether a track stands away from its first rest."""
        # Only a plan that ends with a rest knows where the pedal is to be at its end.
        return (self.judge is not None and bool(self._tracks)
                and self.plan.prompts[-1].kind == "rest" and not self.judge.back)

    def _clear(self) -> None:
        """Take the hint back: what it told of is over; a track that stands still is not."""
        if not self._told_still:
            self.hint = ""

    def _tell(self, code: str, **values: object) -> None:
        if self.plan.prompts and self.plan.prompts[0].by_hand:
            values[USE] = BY_HAND
        self.hint = guide_words(code, values, self._face)
        if self.recorder is not None:
            self.recorder.tell(self.hint)


def _with_more(plan: Plan, slow: int, quick: int, from_s: float) -> Plan:
    """Return the plan with so many of its first slow and quick presses more, from that time on."""
    prompts, begin = list(plan.prompts), from_s
    presses = [k for k, p in enumerate(plan.prompts) if p.kind == "press"]
    for fast, count in ((False, slow), (True, quick)):
        first = next((k for k in presses if plan.prompts[k].quick == fast), presses[0])
        shape = plan.prompts[first:first + 4]
        after = plan.prompts[first + 4].start_s if len(plan.prompts) > first + 4 else plan.end_s
        for _ in range(count):
            prompts += [replace(p, start_s=round(begin + p.start_s - shape[0].start_s, 3))
                        for p in shape]
            begin += after - shape[0].start_s
    return Plan(tuple(prompts), round(begin + 1.0, 3))
