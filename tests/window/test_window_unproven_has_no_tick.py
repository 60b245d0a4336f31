"""What is not proven, or was passed in the car, has no tick and no promise beside it."""

import math
from dataclasses import replace

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtWidgets import QLabel
from said import as_text
from window_driver import (
    PATIENCE_MS,
    cleared,
    open_file,
    open_window,
    press,
    said_beside,
    wait_told,
)

from analysis.key_on import analyse_key_on
from analysis.pedal.findings import analyse, decide
from bench.files.recording_file import read_recording
from bench.window.finding_view import car_trouble, few, headline, said, unproven
from bench.wording.key_on_sentences import log_sentences

LIFTS = SAMPLES / "synthetic_key_on_one_track_lifts.csv"
COVERS = "These values cover everything known or assumed to lift the rest reading."


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def sample(name):
    return SAMPLES / f"synthetic_{name}.csv"


def ticks(window, *titles):
    return [window.pages[title].safe_status()[1] for title in titles]


def open_log(qtbot, window, path):
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.key_on_path == path
                    and not window.session.work.busy, timeout=PATIENCE_MS)


def test_values_that_were_passed_in_the_car_have_no_tick_and_carry_the_warning(
        qtbot, window, tmp_path):
    """The log lifts track b by 120 mV, past its start of travel (sample_sweeps/KEY_ON.md)."""
    open_file(qtbot, window, sample("healthy_pair"))
    keep, read = window.pages["keep"], window.pages["decide"]
    keep.folder.setText(str(tmp_path))
    assert keep.save_settings("text") is not None
    assert all(ticks(window, "read", "decide", "keep"))
    open_log(qtbot, window, LIFTS)
    for _ in range(2):
        for title in ("decide", "keep"):
            window.go_to(title)
            assert window.step_bar.text.text().startswith("POWER WOULD HAVE BEEN APPLIED")
            assert "Do not enter the start of travel judged here" in window.step_bar.more.text()
            assert window.pages[title].safe_status() == ("power would be applied", False)
        window.go_to("read")
        assert "POWER WOULD HAVE BEEN APPLIED" in window.step_bar.more.text() or (
            window.session.findings.gravest >= 2)
        window.go_to("decide")
        assert "NOT PROVEN" in said_beside(read, "b")
        assert "NOT PROVEN" in read.values.head.text()
        for form in ("text", "json", "c", "toml", "csv"):
            saved = " ".join(keep.save_settings(form).read_text(encoding="utf-8").split())
            # Issued with the log, the values carry what the command line writes with them.
            assert "POWER WOULD HAVE BEEN APPLIED" in saved.upper(), form
        template = tmp_path / "mine.txt"
        template.write_text("{warnings}", encoding="utf-8")
        assert "POWER WOULD" in keep.fill_template(template).read_text(encoding="utf-8").upper()
        assert not any(ticks(window, "read", "decide", "keep"))
        # The same once the allowance of that log is in use.
        window.go_to("in_car")
        press(qtbot, window.pages["in_car"].use)
    field = window.pages["decide"].fields["car_allowance_volts"]

    def notes():
        return " ".join(w.text() for w in field.findChildren(QLabel) if not w.isHidden())

    assert "In use, from the log in this car: a " in notes()
    window.session.set_parameters(car_allowance_volts=0.03)
    assert "In use" not in notes()


def test_a_log_of_another_sweep_says_nothing_of_this_one(qtbot, window):
    """What was passed with one pedal's values is not held against another pedal."""
    open_file(qtbot, window, sample("healthy_pair"))
    open_log(qtbot, window, LIFTS)
    assert car_trouble(window.session.findings, window.session.key_on)
    open_file(qtbot, window, sample("half_slope_pair"))
    window.go_to("decide")
    assert window.step_bar.text.text() == COVERS
    assert ticks(window, "read", "decide") == [True, True]


def test_brake_with_pedal_in_the_log_takes_the_tick():
    """Brake and pedal together stop the motor by Formula SAE EV.4.7: no value covers that."""
    found, other = (analyse(read_recording(sample(name))) for name in ("healthy_pair", "one_track"))
    log = analyse_key_on(read_recording(SAMPLES / "synthetic_key_on_foot_and_brake.csv"),
                         sweep=found)
    assert log.brake_events
    said_last = car_trouble(found, log)[-len(log.brake_events):]
    assert all("Brake on with the pedal" in s.text and s.text in log_sentences(log)
               for s in said_last)
    assert car_trouble(other, log) == ()
    assert car_trouble(found, None) == ()


def test_one_track_alone_leads_and_has_no_tick(qtbot, window, tmp_path):
    """Nothing checks a lone track: that is said first, and the pages have no tick."""
    open_file(qtbot, window, sample("one_track"))
    assert "nothing checks it" in said(window.session.findings)[1].sentence
    for title in ("read", "decide"):
        window.go_to(title)
        assert "nothing checks it" in window.step_bar.text.text()
    assert not any(ticks(window, "read", "decide", "keep"))
    assert window.pages["read"].fault_head.text() == (
        "No fault along the travel; see above what is not proven.")
    page = window.pages["keep"]
    page.folder.setText(str(tmp_path))
    assert page.save_settings("text") is not None
    assert ticks(window, "keep") == [False]


@pytest.fixture(scope="module")
def healthy():
    return analyse(read_recording(sample("healthy_pair")))


def test_a_return_that_is_not_proven_takes_the_ticks(qtbot, window, healthy):
    """Without a quick lift-off 49 CFR 571.124 S5.3 is not shown to be met."""
    slow = decide(replace(healthy, return_times=tuple(
        replace(r, quick=False) for r in healthy.return_times)), healthy.parameters)
    window.session.take(slow, sample("healthy_pair"))
    for title in ("read", "decide"):
        window.go_to(title)
        assert "The return after a lift-off is not proven" in window.step_bar.text.text()
    assert window.pages["decide"].next_step().label == "Sweep again"
    assert not any(ticks(window, "read", "decide"))


@pytest.mark.parametrize("often", [1.8e9, math.nan])
def test_noise_that_passes_the_start_of_travel_is_not_proven(qtbot, window, healthy, often):
    """1.8e9 crossings in 1000 h are 500 a second: a reading in the noise, not a dead band."""
    noisy = replace(healthy, dead_bands={
        n: replace(b, false_per_1000_h=often) for n, b in healthy.dead_bands.items()})
    assert unproven(healthy) == ()
    assert headline(noisy).endswith("its own noise would pass it again and again.")
    window.session.take(noisy, sample("healthy_pair"))
    window.go_to("decide")
    page = window.pages["decide"]
    assert window.step_bar.text.text() != COVERS
    assert not any(ticks(window, "read", "decide"))
    beside = " ".join(said_beside(page, "a"))
    assert "not proven" in beside
    assert "e+" not in beside
    assert few(0.5) == "at most 0.5"


@pytest.mark.parametrize(("name", "tracks"), [("stuck_return", "a, b"), ("slipped_track", "b")])
def test_not_proven_stands_beside_the_number_and_over_the_values(qtbot, window, name, tracks):
    """A start of travel whose promise is withdrawn is shown as such, with no promise beside it."""
    open_file(qtbot, window, sample(name))
    window.go_to("decide")
    page = window.pages["decide"]
    for column in tracks.split(", "):
        beside = said_beside(page, column)
        assert "NOT PROVEN" in beside
        more = " ".join(beside)
        assert f"not proven: {as_text(window.session.findings.dead_bands[column].weak)}" in more
        assert "1000 h" not in more
    assert page.values.head.text().endswith(f": NOT PROVEN for track {tracks}")
    open_file(qtbot, window, sample("healthy_pair"))
    assert page.values.head.text() == "Values to enter"
    assert "NOT PROVEN" not in said_beside(page, "a")


def test_a_grave_pedal_is_not_called_free_of_faults(qtbot, window):
    """A track off at rest is no fault along the travel, and must be repaired all the same."""
    open_file(qtbot, window, sample("off_at_rest"))
    window.go_to("read")
    assert window.pages["read"].fault_head.text() == (
        "No fault along the travel; see above what must be repaired.")


def test_trouble_with_a_file_leaves_once_another_is_open(qtbot, window, tmp_path):
    """What could not be read no longer matters when something has been."""
    window.session.open(tmp_path / "nofile.csv")
    wait_told(qtbot, window, "nofile.csv")
    open_file(qtbot, window, sample("one_track"))
    assert not window.notice.isVisible()
    window.session.trouble("The disk is full.")
    open_file(qtbot, window, sample("healthy_pair"))
    assert window.notice.isVisible()


def test_nothing_to_turn_or_see_is_not_offered(qtbot, tmp_path):
    """With nothing opened neither page offers what needs a recording."""
    window = open_window(qtbot, tmp_path)
    window.go_to("decide")
    assert not window.pages["decide"].turn_button.isEnabled()
    window.go_to("read")
    read = window.pages["read"]
    assert not read.whole.isEnabled()
    assert not read.copy_button.isEnabled()
    open_file(qtbot, window, sample("healthy_pair"))
    assert read.whole.isEnabled()
    window.go_to("decide")
    assert window.pages["decide"].turn_button.isEnabled()


def test_values_beyond_every_reading_count_once_the_log_has_judged_them(qtbot, window, tmp_path):
    """120 mV of lift (sample_sweeps/KEY_ON.md) do not reach past 200 mV more of margin."""
    open_file(qtbot, window, sample("healthy_pair"))
    open_log(qtbot, window, LIFTS)
    window.go_to("decide")
    assert window.step_bar.action.text() == "To the log"
    window.session.set_parameters(margin_volts=0.2, allowed_lost_travel_percent=20.0)
    assert ticks(window, "decide") == [False]
    assert window.step_bar.action.text() == "Judge the log again"
    judged = window.session.key_on
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: window.session.key_on is not judged
                    and not window.session.work.busy, timeout=PATIENCE_MS)
    assert window.page is window.pages["decide"]
    assert window.session.key_on.verdict.applied is False
    assert window.step_bar.text.text() == COVERS
    assert ticks(window, "read", "decide") == [True, True]
    page = window.pages["keep"]
    page.folder.setText(str(tmp_path))
    first, second = page.save_settings("text"), page.save_settings("text")
    assert first != second
    assert "POWER WOULD" not in first.read_text(encoding="utf-8")
    assert ticks(window, "keep") == [True]
