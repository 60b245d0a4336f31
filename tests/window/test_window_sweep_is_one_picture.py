"""Sweep: one picture to be read from the pedal, counts by the signal, nothing said too early."""

import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication
from window_driver import (
    PATIENCE_MS,
    close_for_good,
    connect,
    link_is,
    press,
    shared_window,
    start_sweep,
)

from analysis.model.recording import Channel
from bench.plots.live import GAP_S
from bench.services.record import Tally, guided_plan, prompts_of
from bench.window.live import Taken
from bench.window.live_plots import LiveNumbers
from bench.window.loud_line import LoudLine
from bench.window.sizes import em
from bench.window.sweep_counts import SweepCounts
from bench.window.sweep_picture import AHEAD_S, BEHIND_S, Now, SweepPicture
from bench.wording.face import capital
from bench.wording.pages import shared
from bench.wording.pages import sweep as page_words

FAST = 12.0


@pytest.fixture(scope="module")
def window(qapp, tmp_path_factory):
    """A window with the simulated pedal connected, many times faster than real time."""
    made = shared_window(tmp_path_factory.mktemp("sweep"))
    made.session.bench.speed = FAST
    made.session.bench.pedal = "healthy"
    yield made
    close_for_good(made)


@pytest.fixture
def page(qtbot, window):
    window.session.bench.link.stop()
    qtbot.waitUntil(lambda: window.session.bench.link.state != "recording", timeout=PATIENCE_MS)
    window.pages["wire_up"].pedal.setCurrentText("healthy")
    if window.session.bench.link.state == "idle":
        connect(qtbot, window, "simulated")
    window.go_to("sweep")
    page = window.pages["sweep"]
    qtbot.waitUntil(lambda: page.next_step().action in ("start sweep", "sweep again"),
                    timeout=PATIENCE_MS)
    return page


def recording(qtbot, window):
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.state == "recording" and link.source is not None,
                    timeout=PATIENCE_MS)


def test_start_and_stop_are_not_under_the_same_pointer(qtbot, window, page):
    """A second press where Start was stops nothing; whoever stops within 2 s is asked."""
    link = window.session.bench.link
    page.cycles.setValue(2)
    page.quick.setValue(0)
    start = window.step_bar.action
    at = start.mapTo(window, start.rect().center())
    press(qtbot, start)
    recording(qtbot, window)
    assert not start.isVisible()
    for made in (page.keep_button, page.discard_button):
        assert not made.rect().contains(made.mapFrom(window, at))
    there = window.childAt(at)
    qtbot.mouseClick(there, Qt.MouseButton.LeftButton, pos=there.mapFrom(window, at))
    assert link.state == "recording"
    page.began += 1000.0  # as if it had begun just now, however slow this machine is
    press(qtbot, page.keep_button)
    assert [a.text() for a in window.notice.answers] == ["Stop it", "Go on"]
    press(qtbot, window.notice.answers[1])
    assert link.state == "recording"
    page.began = 0.0
    press(qtbot, page.keep_button)
    qtbot.waitUntil(lambda: link.state != "recording", timeout=PATIENCE_MS)
    window.session.work.cancel()


def test_the_plan_shown_before_is_the_one_that_is_followed(qtbot, window, page):
    """The seconds told and the ribbon drawn before the start are those of the sweep itself.

    No outside source: the promise is the project's own. Within the 20 ms between two of the rows
    that the simulated person was asked ahead with.
    """
    page.cycles.setValue(3)
    page.quick.setValue(1)
    ahead = window.session.bench.plan_ahead(3, 1)
    assert page.picture.plan is ahead
    page.start()
    recording(qtbot, window)
    qtbot.waitUntil(lambda: window.session.bench.link.guide is not None, timeout=PATIENCE_MS)
    followed = window.session.bench.link.guide.plan
    assert followed.end_s == pytest.approx(ahead.end_s, abs=0.02)
    assert [p.kind for p in followed.prompts] == [p.kind for p in ahead.prompts]
    assert [p.start_s for p in followed.prompts] == pytest.approx(
        [p.start_s for p in ahead.prompts], abs=0.02)
    # A board at a port gets the usual plan, and a replay, which goes by itself, none.
    window.session.bench.board_name = "/dev/ttyX"
    try:
        assert window.session.bench.plan_ahead(8, 4) == guided_plan(8, 4)
        window.session.bench.board_name = "replay:old.csv"
        assert window.session.bench.plan_ahead(8, 4) is None
    finally:
        window.session.bench.board_name = "simulated"


def test_only_a_sweep_of_which_all_counts_has_its_tick(qtbot, window, page):
    """Stopped early: so many of so many usable, no tick, *Sweep again*; whole: the tick."""
    link = window.session.bench.link
    start_sweep(qtbot, window, cycles=3, quick=1)
    qtbot.waitUntil(lambda: link.guide is not None and link.guide.accepted >= 1,
                    timeout=PATIENCE_MS)
    # What is on show is what the signal showed, not how far the clock is.
    qtbot.waitUntil(lambda: page.counts.tally.presses >= 1, timeout=PATIENCE_MS)
    page.began = 0.0
    page.stop_and_keep()
    qtbot.waitUntil(lambda: link.state != "recording" and not window.session.work.busy,
                    timeout=PATIENCE_MS)
    assert "of 3 presses, 0 of 1 lift-offs usable" in page.status().text + page.outcome
    assert not page.status().done
    window.go_to("sweep")
    qtbot.waitUntil(lambda: page.next_step().action == "sweep again", timeout=PATIENCE_MS)
    assert page.next_step().text.startswith("Not all of it can be used: ")
    press(qtbot, window.step_bar.action)
    recording(qtbot, window)
    qtbot.waitUntil(lambda: link.state != "recording" and window.session.path == page.kept
                    and not window.session.work.busy, timeout=PATIENCE_MS)
    assert page.status() == ("3 of 3 presses, 1 of 1 lift-offs usable", True)


def test_a_sound_at_each_change_if_wanted_and_remembered(qtbot, window, page, monkeypatch):
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    assert not page.sound.isChecked()
    page.sound.click()
    assert window.session.preferences.value("sweep/sound") == "true"
    start_sweep(qtbot, window, cycles=1, quick=0)
    qtbot.waitUntil(lambda: len(beeps) >= 3, timeout=PATIENCE_MS)
    page.sound.click()
    window.session.bench.link.stop()


@pytest.mark.parametrize("size", [(1000, 700), (1366, 768), (1920, 1080)])
def test_prompt_and_countdown_are_of_one_size_and_large(window, page, size):
    """Every prompt in one line with its countdown, in print more than twice that of any text.

    Two metres away: of the size of the sentence on top (common practice, no source).
    """
    window.resize(*size)
    loud = page.loud
    loud.setVisible(True)
    QApplication.processEvents()
    sizes = set()
    for words in prompts_of():
        loud.say(f"{capital(words)}.", "12 s")
        sizes.add(loud.print_size())
        font = loud.font_in(loud.print_size())
        wide = QFontMetricsF(font).horizontalAdvance(f"{loud.text} {loud.figure}")
        assert wide < loud.width()
    assert len(sizes) == 1
    assert sizes.pop() > 2.4 * em(1)
    loud.setVisible(False)
    window.resize(1366, 700)


def colours(picture, left, right):
    """Return the colours between two places of a picture, as "#rrggbb"."""
    image = picture.grab().toImage()
    return {image.pixelColor(x, y).name() for x in range(left, right)
            for y in range(0, image.height(), 2)}


def test_a_cable_gap_is_hatched_and_nothing_is_drawn_across_it(qtbot):
    """5 s of a pedal held half way, 3 s without a reading, 1 s more."""
    picture = SweepPicture()
    qtbot.addWidget(picture)
    picture.resize(1000, 300)
    picture.begin(("a",), 500.0)
    for times in (np.arange(0.0, 5.0, 0.002), np.arange(8.0, 9.0, 0.002)):
        picture.trail.add(times, np.full((times.size, 1), 0.5))
    plan = guided_plan()
    for now in (1.0, 5.0, 8.0, 9.0):
        picture.show_now(Now(now, now, plan), lambda volts: volts)
    box_left = 7.2 * em(1)
    scale = (picture.width() - 7.8 * em(1)) / (BEHIND_S + AHEAD_S)
    gap = [round(box_left + s * scale) for s in (5.0 + GAP_S, 8.0 - GAP_S)]
    track = picture.skin.look.track(0).name()
    ribbon = picture.pale().name()
    inside = colours(picture, *gap)
    assert picture.skin.mend.lower() in inside
    assert track not in inside
    assert ribbon not in inside
    before = colours(picture, round(box_left + 2 * scale), round(box_left + 4 * scale))
    assert {track, ribbon} <= before
    # Ahead of now lies what will be asked, and no pedal.
    ahead = colours(picture, round(box_left + (BEHIND_S + 0.5) * scale), picture.width() - 10)
    assert ribbon in ahead
    assert track not in ahead


def test_a_plan_that_waits_lets_time_pass_and_the_ribbon_stand(qtbot):
    """Ten seconds in which the plan stood at a rest: the ribbon behind is level there."""
    picture = SweepPicture()
    qtbot.addWidget(picture)
    plan = guided_plan()
    picture.begin(("a",), 500.0)
    for k in range(400):
        now = 2.0 + 0.025 * k
        picture.show_now(Now(now, min(now, 2.5), plan), lambda volts: volts)
    times, shares = picture.past(now)
    assert times[-1] == pytest.approx(now, abs=0.2)
    assert set(np.round(shares, 6)) == {0.0}


def test_marks_are_told_apart_by_words_and_never_set_by_the_clock(qtbot):
    counts = SweepCounts()
    qtbot.addWidget(counts)
    counts.show_tally(Tally(), 8, 4)
    assert counts.texts() == ("0 of 8 presses", "0 of 4 lift-offs", "0 of 13 rests")
    assert counts.marks(False, 8) == [""] * 8
    counts.show_tally(Tally(1, 1, 3, ((False, "counts"), (False, "short"), (True, "counts"))),
                      8, 4)
    assert counts.marks(False, 8) == ["counts", "short", *[""] * 7]
    assert "1 of 8 presses" in counts.accessibleDescription()


def test_a_folder_that_cannot_be_made_is_told_beside_its_field(qtbot, window, page, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    before = page.folder.text()
    # What the test before recorded may still be read: then the button is about to change.
    qtbot.waitUntil(lambda: window.session.bench.link.state == "live"
                    and not window.session.work.busy, timeout=PATIENCE_MS)
    page.folder.setText(str(blocked / "sweeps"))
    qtbot.waitUntil(lambda: page.next_step().action in ("start sweep", "sweep again")
                    and window.step_bar.action.isVisible(), timeout=PATIENCE_MS)
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: page.setup.folder_trouble.wrong, timeout=PATIENCE_MS)
    assert window.session.bench.link.state == "live"
    page.folder.setText(before)
    assert not page.setup.folder_trouble.wrong


def test_the_picture_is_as_wide_as_its_card(window, page):
    """One picture, full width: nothing stands beside it."""
    QApplication.processEvents()
    card = page.picture.parentWidget()
    assert page.picture.width() > 0.95 * card.width()
    left = page.picture.mapTo(page, QPoint(0, 0)).x()
    assert left < 0.05 * page.width()


def test_the_ribbon_runs_on_without_a_crack_at_now(qtbot):
    """What was asked and what comes are one ribbon: no ground shows where they meet on a slope."""
    picture = SweepPicture()
    qtbot.addWidget(picture)
    picture.resize(1000, 600)
    plan = guided_plan()
    slope = plan.prompts[1]
    picture.begin(("a",), 500.0)
    for now in np.arange(0.0, slope.start_s + 1.0, 0.13):
        picture.show_now(Now(now, now, plan), lambda volts: volts)
    box_left = 7.2 * em(1)
    at = box_left + BEHIND_S * (picture.width() - 7.8 * em(1)) / (BEHIND_S + AHEAD_S)
    ribbon = picture.pale().name()
    image = picture.grab().toImage()
    for x in (round(at) + d for d in (-8, -5, -3, 3, 5)):
        rows = [y for y in range(image.height()) if image.pixelColor(x, y).name() == ribbon]
        assert rows, x
        assert rows[-1] - rows[0] + 1 == len(rows), (x, rows[0], rows[-1], len(rows))


@pytest.fixture(scope="module")
def short_file(tmp_path_factory):
    """The first 0.6 s of a sweep as a recording of its own."""
    lines = (SAMPLES / "synthetic_healthy_pair.csv").read_text(encoding="utf-8").splitlines()
    head = next(k for k, line in enumerate(lines) if not line.startswith("#")) + 1
    path = tmp_path_factory.mktemp("short") / "short.csv"
    path.write_text("\n".join(lines[:head + 60]) + "\n", encoding="utf-8")
    return path


def test_a_replay_is_recorded_without_steps(qtbot, window, page, short_file):
    """Nobody is led through it, nothing is counted by steps, and what it is worth stays open."""
    session, link = window.session, window.session.bench.link
    session.bench.disconnect_board()
    connect(qtbot, window, str(short_file))
    assert session.bench.plan_ahead(8, 4) is None
    window.go_to("sweep")
    assert page.picture.plan is None
    # It says so in quiet words: no ribbon that nobody will be led along.
    blank = page.picture.grab().toImage()
    page.picture.show_plan(guided_plan())
    assert page.picture.grab().toImage() != blank
    page.start()
    qtbot.waitUntil(lambda: link.state == "recording" and link.source is not None
                    and page.loud.text == page_words.RECORDING, timeout=PATIENCE_MS)
    assert window.step_bar.text.text() == page_words.RECORDING
    assert window.step_bar.more.text() == page_words.NO_STEPS
    assert not page.counts.isVisible()
    qtbot.waitUntil(lambda: link.state != "recording" and bool(page.outcome)
                    and not session.work.busy, timeout=PATIENCE_MS)
    assert page.outcome == page_words.uncounted(60)
    assert not page.status().done
    session.bench.disconnect_board()


def unplugged(qtbot, window):
    """Return what the simulated board says, and let go of it: it would begin anew meanwhile."""
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.source is not None, timeout=PATIENCE_MS)
    source = link.source
    window.session.bench.disconnect_board()
    return source


def test_while_a_sweep_runs_its_board_may_be_late_or_gone(qtbot, window, page, monkeypatch):
    """Waiting, the cable out, another recording: each is said, and no button starts a second."""
    source = unplugged(qtbot, window)
    link_is(window, monkeypatch, state="recording", purpose="sweep", guide=None, file=None,
            source=None)
    for more, said, status in (
            ({}, shared.WAITING, "recording…"),
            ({"lost": True}, shared.LOST, "cable is out"),
            ({"lost": False, "source": source}, page_words.RECORDING, "recording…")):
        link_is(window, monkeypatch, **more)
        page.paint()
        assert window.step_bar.text.text() == said
        assert page.loud.text == said
        assert page.status() == (status, False)
        page.act()
        assert window.page is page
    link_is(window, monkeypatch, purpose="key-on")
    assert window.step_bar.text.text() == shared.CAR_LOGGED


def test_without_a_track_no_sweep_begins(qtbot, window, page, monkeypatch):
    """The inputs are named on Wire up, and there the button leads."""
    edits, source = window.session.bench.edits, unplugged(qtbot, window)
    before = edits.channels
    link_is(window, monkeypatch, state="live", source=source)
    edits.begin(tuple(replace(c, role="supply") for c in before))
    assert page.next_step().text == page_words.NO_TRACK
    page.act()
    assert window.page is window.pages["wire_up"]
    edits.begin(before)
    window.go_to("sweep")
    assert page.next_step().text != page_words.NO_TRACK


@pytest.mark.parametrize("trash", [True, False])
def test_what_is_thrown_away_goes_to_the_trash_or_aside(window, page, tmp_path, monkeypatch,
                                                        trash):
    """Where there is no trash it stays beside, under another name: no reading is destroyed."""
    monkeypatch.setattr("bench.window.recorded_files.QFile.moveToTrash", lambda _path: trash)
    path = tmp_path / "sweep.csv"
    path.write_text("readings")
    file = SimpleNamespace(path=path, writer=SimpleNamespace(rows=1), lost_samples=0)
    window.session.bench.link.taken.emit(Taken("sweep", file, None, True))
    said = window.notice.text.text()
    aside = tmp_path / "sweep.csv.discarded"
    assert said == (page_words.trashed("sweep.csv") if trash else page_words.put_aside(str(aside)))
    assert aside.exists() is not trash


def test_a_sweep_that_ended_early_says_why_and_what_is_kept(qtbot, window, page, short_file,
                                                            monkeypatch):
    """The reason first, then the file, its rows and what was lost of them."""
    opened = []
    monkeypatch.setattr(window.session, "open_sweep", opened.append)
    file = SimpleNamespace(path=short_file, writer=SimpleNamespace(rows=60), lost_samples=3)
    window.session.bench.link.taken.emit(Taken("sweep", file, "The port is gone.", False))
    said = window.notice.text.text()
    assert said.startswith("The port is gone. ")
    for told in (str(short_file), "60 rows", "3 samples lost"):
        assert told in said
    assert opened == [short_file]


def test_the_inputs_at_the_end_are_left_out_where_there_is_no_room(qtbot):
    """Smaller print first; what is not shown is still told to a screen reader."""
    numbers = LiveNumbers()
    qtbot.addWidget(numbers)
    made = Channel("a", "track", np.empty(0), "counts", 4096.0, 5.0)
    numbers.begin(tuple(replace(made, column=f"input{k}") for k in range(4)))
    numbers.show_level(np.arange(4.0), True)
    seen = []
    for wide in (2000, 430, 200, 20):
        numbers.resize(wide, 30)
        numbers.grab()
        seen.append(len(numbers.shown))
        assert numbers.shown == numbers.texts[:len(numbers.shown)]
    assert seen[0] == 4
    assert seen[-1] == 0
    assert seen == sorted(seen, reverse=True)
    assert "input3" in numbers.accessibleDescription()


def test_words_too_long_for_one_line_stand_in_two(qtbot):
    """Nothing of them is cut off where the least print has no room for them."""
    loud = LoudLine("what to do", ())
    qtbot.addWidget(loud)
    loud.resize(200, 200)
    for text in ("Press.", "Let go of the pedal slowly and wait until it has come to rest again."):
        loud.say(text)
        rows = loud.grab().toImage()
        ground = rows.pixelColor(0, 0)
        inked = [y for y in range(rows.height()) if any(
            rows.pixelColor(x, y) != ground for x in range(0, rows.width(), 2))]
        # Between two lines there is at least one empty row.
        parts = 1 + sum(b - a > 1 for a, b in itertools.pairwise(inked))
        assert (parts > 1) is (len(text) > 20), text
