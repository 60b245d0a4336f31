"""In the car, live: whose pedal it is, the contactor before the start, a verdict never too good."""

from dataclasses import replace

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtWidgets import QApplication
from window_driver import PATIENCE_MS, close_for_good, connect, open_file, press, shared_window

from bench.services.car_live import CarNow, SamePedal, TrackLine, TrackNow
from bench.window.contactor_choice import NOT_CHOSEN
from bench.window.track_scale import TrackScale

HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
HARD = "\N{NO-BREAK SPACE}"


@pytest.fixture(scope="module")
def window(qapp, tmp_path_factory):
    """A window with the simulated pedal of the healthy sample in a simulated car."""
    folder = tmp_path_factory.mktemp("car")
    made = shared_window(folder, (1366, 768))
    made.session.preferences.setValue("sweep/folder", str(folder))
    yield made
    close_for_good(made)


@pytest.fixture
def page(qtbot, window):
    """The page before a log, the sweep of that pedal open and the cautions met."""
    if window.session.path != HEALTHY:
        open_file(qtbot, window, HEALTHY)
    window.session.bench.speed = 1.0
    window.go_to("wire_up")
    window.pages["wire_up"].pedal.setCurrentText("healthy")
    if window.session.bench.link.state == "idle":
        connect(qtbot, window, "simulated")
    window.session.accept_car_cautions()
    window.go_to("in_car")
    page = window.pages["in_car"]
    if page.stack.currentIndex() != 0:
        page.log_again()
    return page


def test_whose_pedal_it_is_is_said_with_its_numbers_before_the_start(qtbot, window, page):
    """Yes for the swept pedal at rest; the car's own part, with the key on, is no answer."""
    qtbot.waitUntil(lambda: page.before.same.answer == "yes", timeout=PATIENCE_MS)
    assert page.before.answer.text() == "✓ Yes: it rests where the sweep's pedal rests."
    lines = page.before.numbers.text().splitlines()
    assert [line[0] for line in lines] == ["a", "b"]
    assert all(f"{HARD}V" in line and f"{HARD}mV" in line for line in lines)
    page.before.show_same(SamePedal("no"))
    assert page.before.answer.text().startswith("■ No")
    assert page.before.answer.objectName() == "grave"
    page.contactor.show_choice("open")
    assert "will not count" in page.next_step().more
    page.contactor.show_choice(NOT_CHOSEN)


def test_the_contactor_is_chosen_before_the_start_and_asked_anew(qtbot, window, page):
    qtbot.waitUntil(lambda: window.step_bar.action.text() == "Start the log", timeout=PATIENCE_MS)
    assert not window.step_bar.action.isEnabled()
    assert window.step_bar.text.text().startswith("Say what the contactor does")
    press(qtbot, page.contactor.buttons["open"])
    assert window.step_bar.action.isEnabled()
    assert page.before.contactor_about.text().startswith("The first log")
    window.session.bench.speed = 20.0
    page.before.cycles.setValue(2)
    press(qtbot, window.step_bar.action)
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.state == "recording" and bool(page.live.scales),
                    timeout=PATIENCE_MS)
    assert page.live.cycle.text().endswith("of 2")
    # It ends by itself after the key-ons asked for: nobody has to reach for the laptop.
    qtbot.waitUntil(lambda: window.session.key_on is not None and not window.session.work.busy,
                    timeout=PATIENCE_MS)
    found = window.session.key_on
    assert found.contactor == "open"
    assert len(found.cycles) == 2
    # The live scale ended where the log's own verdict puts it (analyse_key_on).
    for track in page.watch.now.tracks:
        judged = found.verdict.tracks[track.line.column]
        assert track.left_volts == pytest.approx(judged.margin_volts, abs=1e-9)
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: window.step_bar.action.text() == "Start the log", timeout=PATIENCE_MS)
    assert page.contactor.choice == NOT_CHOSEN
    # Off the page the simulated board is the pedal again, with its own three inputs.
    window.go_to("wire_up")
    rows = window.pages["wire_up"].rows.rows
    qtbot.waitUntil(lambda: len(rows) == 3 and rows[0].volts.text().endswith("V"),
                    timeout=PATIENCE_MS)


LINES = (TrackLine("a", 0.75, 0.81, 1.0), TrackLine("b", 4.25, 4.19, -1.0))
BELOW = CarNow("below", (TrackNow(LINES[0], 0.76, 0.775, 0.035), TrackNow(LINES[1], 4.24, 4.22,
                                                                         0.03)), (), True, 5.0, 1)


@pytest.fixture
def live(window, page, monkeypatch):
    monkeypatch.setattr(type(window.session.board_state), "fresh", True)
    page.live.begin(3)
    yield page.live
    page.live.begin(3)


def test_open_is_never_shown_as_good(live):
    """Below is plain words in plain ink, open says what was not seen; neither has a tick."""
    live.show_now(BELOW, "")
    assert (live.verdict.text, live.verdict.kind) == ("Below start of travel so far.", "")
    live.show_now(replace(BELOW, state="open", why=(("rows lost", {"longest_s": 1.5}),)), "")
    assert live.verdict.text == f"▲ No verdict: no readings for 1.50{HARD}s with the key on."
    assert live.verdict.kind == "mend"
    assert "✓" not in live.verdict.text


def test_while_nothing_is_seen_nothing_is_below(window, live, monkeypatch):
    """The cable out, the key perhaps on: what was below so far is no verdict on now."""
    monkeypatch.setattr(type(window.session.board_state), "fresh", False)
    live.show_now(BELOW, "")
    assert (live.verdict.text, live.verdict.kind) == (
        "▲ No verdict: no readings come now.", "mend")


def test_where_no_line_tells_of_the_key_it_is_marked_by_hand(live):
    class Log:
        logging, key_ons, writer, waits_for = True, 1, None, "nothing"

    live.tell(Log, False, replace(BELOW, key_on=None), "")
    assert live.mark.isVisibleTo(live)
    assert live.cycle.text() == "Key cycle 1 of 3"
    live.tell(Log, False, BELOW, "")
    assert not live.mark.isVisibleTo(live)


def test_passing_start_of_travel_is_loud_in_colour_words_and_sound(live, monkeypatch):
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    passed = replace(BELOW, state="passed", first_passed=2, tracks=(
        replace(BELOW.tracks[0], worst_volts=0.8242, left_volts=-0.0142), BELOW.tracks[1]))
    live.beeped = 0.0
    live.show_now(passed, "")
    assert live.verdict.kind == "grave"
    assert live.verdict.text == "■ START OF TRAVEL PASSED: track a"
    assert live.verdict.figure == "key-on 2"
    assert live.scales[0].digits == f"14.2{HARD}mV"
    assert live.scales[0].under.startswith("■ beyond")
    assert live.scales[1].digits == f"30.0{HARD}mV"
    assert beeps == [1]
    live.sound.setChecked(False)
    live.beeped = 0.0
    live.show_now(passed, "")
    assert beeps == [1]
    live.sound.setChecked(True)


def test_the_key_is_led_with_seconds(live):
    for since, on, text, figure in ((5.0, True, "Leave the key on.", "20 s"),
                                    (25.0, True, "Turn the key off.", ""),
                                    (4.5, False, "Leave the key off.", "6 s"),
                                    (10.0, False, "Turn the key on.", "")):
        live.show_now(replace(BELOW, key_on=on, since_s=since), "")
        assert (live.doing.text, live.doing.figure) == (text, figure)


def test_a_scale_without_readings_of_now_has_no_needle(qtbot):
    """Frozen: the worst mark stays, for it was seen; where the pedal is now nobody knows."""
    scale = TrackScale()
    qtbot.addWidget(scale)
    scale.resize(900, 130)
    needle = scale.skin.accent.lower()

    def colours():
        image = scale.grab().toImage()
        return {image.pixelColor(x, y).name() for x in range(0, 900, 1) for y in range(40, 100, 4)}

    scale.show_now(BELOW.tracks[0], True)
    assert needle in colours()
    scale.show_now(BELOW.tracks[0], False)
    assert needle not in colours()
    assert scale.digits == f"35.0{HARD}mV"
    scale.show_now(TrackNow(replace(LINES[0], start_volts=float("nan")), 0.76), False)
    assert scale.digits == f"–{HARD}V"


def test_a_falling_track_runs_the_same_way(qtbot):
    """Rest on the left and start of travel on the right, whichever way its volts go."""
    places = []
    for track in BELOW.tracks:
        scale = TrackScale()
        qtbot.addWidget(scale)
        scale.resize(900, 130)
        scale.show_now(track, True)
        image = scale.grab().toImage()
        needle = [x for x in range(900) if image.pixelColor(x, 68).name()
                  == scale.skin.accent.lower()]
        places.append(sum(needle) / len(needle))
    # Both stand 10 mV of 60 from rest, so in the same place.
    assert places[0] == pytest.approx(places[1], abs=3)


def test_start_of_travel_on_the_scale_is_the_one_that_was_issued(qapp):
    """Rounded away from rest, as it stands on Decide; never a millivolt below what is entered."""
    for rest, start, shown in ((0.909, 0.9632, "0.964"), (4.0, 3.9368, "3.936")):
        scale = TrackScale()
        line = TrackLine("b", rest, start, 1.0 if start > rest else -1.0)
        assert scale.words_of(line)[1] == f"start of travel {shown}{HARD}V"


def test_nothing_of_the_last_log_stays_on_the_scales(qtbot, window, page):
    """A new log begins without a worst mark."""
    page.live.begin(3)
    page.live.show_now(BELOW, "")
    page.live.begin(3)
    assert page.live.scales == []
    assert page.live.verdict.text == "Nothing judged yet."
