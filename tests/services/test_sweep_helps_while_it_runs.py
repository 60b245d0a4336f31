"""A person who is late, half-hearted or wired wrongly is told at once, and the plan waits.

The person, the pedal and the clock are played here; no outside source: the promises are the
project's own.
"""

import numpy as np
import pytest

from analysis.model.recording import Channel
from bench.acquisition.guided_plan import guided_plan
from bench.acquisition.listener import Rows, Source
from bench.acquisition.sweep_judge import SweepJudge
from bench.services.guide import Guide
from bench.wording.face import TERMINAL, WINDOW
from bench.wording.guided import guide_words

RATE, PIECE = 200, 10
LOW, HIGH = np.array([150.0, 180.0]), np.array([870.0, 880.0])


class Bench:
    """Stand in for the recorder, and for the person who does what is asked for, in their way."""

    def __init__(self, way=lambda bench, prompt: 1.0, late_s=0.2, dead=False, stop_after=400.0):
        self.told, self.marks, self.stopped_s = [], [], None
        self.now = self.travel = 0.0
        self.goal, self.since = 0.0, 0.0
        self.way, self.late_s, self.dead, self.stop_after = way, late_s, dead, stop_after
        self.presses = 0
        self.ahead = []
        self.guide = Guide(guided_plan(), self.show)
        self.guide.recorder = self

    def tell(self, text):
        self.told.append((self.now, text))

    def mark(self, text):
        self.marks.append(text)

    def stop(self):
        if self.stopped_s is None:
            self.stopped_s = self.now

    def show(self, prompt):
        self.presses += prompt.kind == "press"
        if prompt.kind == "press":
            goal = self.way(self, prompt)
        elif prompt.kind == "hold":
            return
        else:
            goal = self.way(self, prompt) - 1.0 if prompt.kind == "release" else None
        if goal is not None:
            self.ahead.append((self.now + self.late_s, goal, 0.25 if prompt.quick else 1.2))

    def run(self):
        rng = np.random.default_rng(3)
        self.guide.started(Source(tuple(Channel(
            c, "track", np.empty(0), full_scale=1024.0, reference_volts=5.0) for c in "ab"),
            float(RATE), "bench"))
        speed, goal = 1.0, 0.0
        while self.stopped_s is None and self.now < self.stop_after:
            rows = []
            for _ in range(PIECE):
                self.now += 1.0 / RATE
                while self.ahead and self.ahead[0][0] <= self.now:
                    _, goal, seconds = self.ahead.pop(0)
                    speed = 1.0 / seconds
                step = np.clip(goal - self.travel, -speed / RATE, speed / RATE)
                self.travel += step
                level = LOW + (HIGH - LOW) * self.travel
                if self.dead:
                    level[1] = LOW[1]
                rows.append(np.rint(level + rng.normal(0.0, 0.8, 2)))
            times = self.now - np.arange(PIECE - 1, -1, -1) / RATE
            self.guide.rows(Rows(times, np.array(rows), np.zeros(PIECE, np.int64)))
        return self

    @property
    def said(self):
        return " | ".join(text for _, text in self.told)


def usual(bench, prompt):
    """Do what is asked for."""
    return 0.5 if prompt.shallow and prompt.kind == "press" else 1.0


def test_a_willing_person_hears_nothing_and_every_press_counts():
    done = Bench(usual).run()
    assert done.told == []
    assert (done.guide.accepted, done.guide.wanted) == (12, 12)
    # Presses, lift-offs and rests are counted apart, by the signal.
    tally = done.guide.tally
    assert (tally.presses, tally.lift_offs, tally.rests) == (8, 4, 13)
    assert [quick for quick, _ in tally.tried] == [False] * 8 + [True] * 4
    assert done.guide.whole
    assert done.stopped_s == pytest.approx(guided_plan().end_s, abs=1.5)


@pytest.mark.parametrize("late_s", [0.8, 1.6])
def test_being_late_does_no_harm(late_s):
    done = Bench(usual, late_s=late_s).run()
    assert done.guide.accepted == done.guide.wanted
    assert not any("stand" in text for _, text in done.told)


def test_a_pedal_that_does_not_move_is_told_after_the_first_press_and_the_plan_waits():
    done = Bench(lambda bench, prompt: 0.0 if prompt.kind == "press" else 1.0,
                 stop_after=60.0).run()
    first_s, text = done.told[0]
    assert first_s < 8.0
    assert text.startswith("no press was seen")
    # The press is asked for again, and does not count.
    assert done.marks[:5] == ["rest", "press", "hold", "press", "hold"]
    assert done.guide.accepted == 0


def test_a_missed_press_is_made_up_for():
    missed = {2, 5}
    done = Bench(lambda bench, prompt: 0.0 if prompt.kind == "press" and bench.presses in missed
                 else usual(bench, prompt)).run()
    assert done.guide.accepted == done.guide.wanted
    assert done.said.count("no press was seen") == 2
    assert done.stopped_s < guided_plan().end_s + 15.0


def test_one_track_that_stands_still_is_told_after_the_first_press():
    done = Bench(usual, dead=True).run()
    first_s, text = done.told[0]
    assert first_s < 11.0
    assert "only one track moves: track b stands still" in text
    assert done.said.count("stands still") == 1


def test_presses_that_fell_short_are_asked_for_again_at_the_end():
    done = Bench(lambda bench, prompt: 0.6 if prompt.kind == "press" and bench.presses in (4, 5)
                 else usual(bench, prompt)).run()
    assert "2 presses did not reach the stop: 2 more" in done.said
    assert done.guide.accepted == 12
    assert sum(mark == "press" for mark in done.marks) == 14


def test_a_foot_left_on_the_pedal_holds_the_plan_up():
    def way(bench, prompt):
        if prompt.kind == "release" and bench.presses == 3:
            # A fifth of the way down for four seconds more, then off.
            bench.ahead.append((bench.now + 8.0, 0.0, 0.3))
            return 1.2
        return usual(bench, prompt)

    done = Bench(way).run()
    assert "the pedal is not back at rest: take the foot right off it" in done.said
    # What did not count was asked for again: none is missing in the end.
    assert done.guide.accepted >= done.guide.wanted


def test_a_lost_contact_is_no_press_and_no_deeper_stop():
    """A wiper off for 60 ms at every press, its input pulled to the supply: one track at 1 kHz."""
    judge = SweepJudge((Channel("a", "track", np.empty(0), full_scale=1024.0,
                                reference_volts=5.0),), 1000.0)
    judge.take(np.full((1500, 1), 0.75), True)
    for _ in range(3):
        judge.begin_press()
        for level, rows in ((0.75, 300), (2.0, 200), (5.0, 60), (2.0, 200), (4.2, 600),
                            (0.75, 800)):
            for _ in range(rows // 20):
                judge.take(np.full((20, 1), level), False)
        judge.end_cycle(False)
    assert judge.accepted == 3
    # Lost at rest: nobody pressed.
    judge.begin_press()
    for level, rows in ((0.75, 400), (5.0, 60), (0.75, 400)):
        judge.take(np.full((rows, 1), level), False)
    assert not judge.pressed


def test_a_simulated_pedal_hears_no_prompt_and_is_followed_by_the_clock():
    done = Bench(lambda bench, prompt: 0.0 if prompt.kind == "press" else 1.0, stop_after=200.0)
    done.guide = Guide(guided_plan(), done.show, helps=False)
    done.guide.recorder = done
    done.run()
    # Nothing counts by the clock: no press, no lift-off, and the first rest alone.
    tally = done.guide.tally
    assert (tally.presses, tally.lift_offs, tally.rests) == (0, 0, 1)
    assert not done.guide.whole
    assert done.told == []
    assert done.stopped_s == pytest.approx(guided_plan().end_s, abs=1.0)


def test_a_missing_lift_off_is_asked_for_again_as_one():
    done = Bench(lambda bench, prompt: 0.6 if prompt.kind == "press" and bench.presses == 9
                 else usual(bench, prompt)).run()
    assert "1 press did not reach the stop: 1 more" in done.said
    assert done.guide.plan.prompts[-1].quick
    assert done.guide.whole


def test_a_press_with_readings_missing_does_not_count():
    """Half a second without rows in the first press: what was not seen is not seen whole."""
    done = Bench(usual)
    given = done.guide.rows
    done.guide.rows = lambda rows: None if 4.0 < rows.time_s[-1] < 4.5 else given(rows)
    done.run()
    assert done.guide.tally.tried[0] == (False, "torn")
    assert "readings are missing in 1 of them: 1 more" in done.said
    assert done.guide.whole


def test_what_is_the_matter_is_said_until_it_is_solved():
    """In the window's own words, which know no keys of a terminal."""
    done = Bench(lambda bench, prompt: 0.0 if prompt.kind == "press" and bench.presses == 1
                 else usual(bench, prompt))
    done.guide = Guide(guided_plan(), done.show, face=WINDOW)
    done.guide.recorder = done
    hints = []
    given = done.guide.rows

    def note(rows):
        given(rows)
        if done.guide.hint not in hints[-1:]:
            hints.append(done.guide.hint)

    done.guide.rows = note
    done.run()
    assert hints == ["", "no press was seen: press the pedal all the way down now", ""]
    for code, values in (("press still unseen", {}), ("one track still", {"tracks": ("b",)})):
        assert "Ctrl" in guide_words(code, values, TERMINAL)
        assert "Ctrl" not in guide_words(code, values, WINDOW)


def test_travel_is_a_share_of_the_furthest_press_for_rising_and_falling_tracks():
    """A track from 0.5 to 4.5 V and one from 4.5 to 0.5 V: half way is 2.5 V for both."""
    channels = tuple(Channel(n, "track", np.empty(0), full_scale=1024.0, reference_volts=5.0)
                     for n in "ab")
    judge = SweepJudge(channels, 100.0)
    rest, full = np.array([0.5, 4.5]), np.array([4.5, 0.5])
    judge.take(np.tile(rest, (150, 1)), True)
    judge.begin_press()
    for share in (0.2, 1.0, 1.0, 0.5, 0.1, 0.0):
        judge.take(np.tile(rest + share * (full - rest), (30, 1)), False)
    shares = judge.travel(np.array([[0.5, 4.5], [2.5, 2.5], [4.5, 0.5]]))
    assert shares == pytest.approx(np.array([[0, 0], [0.5, 0.5], [1, 1]]))
