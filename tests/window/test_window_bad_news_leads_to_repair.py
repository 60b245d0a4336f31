"""Bad news leads to repairing: no tick beside it, and the large button never leads past it."""

import pytest
from findings_by_hand import SAMPLES
from window_driver import cleared, open_file, start_label

from analysis.pedal.findings import analyse
from bench.files.recording_file import read_recording
from bench.window.finding_view import must_mend, said

PAGES = ("read", "decide", "keep")


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def sample(name):
    return SAMPLES / f"synthetic_{name}.csv"


def ticks(window):
    return {title: page.safe_status()[1] for title, page in window.pages.items()}


@pytest.mark.parametrize("name", ["wiper_dropouts", "stuck_return"])
def test_do_not_drive_leads_to_another_sweep(qtbot, window, tmp_path, name):
    """On a pedal that must not be driven every page's large button leads to sweeping again."""
    open_file(qtbot, window, sample(name))
    for title in PAGES:
        window.go_to(title)
        assert window.step_bar.text.text().startswith("Do not drive")
        assert window.step_bar.action.text() == "Sweep again"
        window.step_bar.action.click()
        assert window.page.key == "sweep"
    assert not any(ticks(window).values())
    assert window.pages["read"].safe_status()[0] == "do not drive"
    # The values can still be carried away, by a small button; saving them earns no tick.
    window.pages["keep"].folder.setText(str(tmp_path))
    assert window.pages["keep"].save_settings("text") is not None
    assert ticks(window)["keep"] is False
    assert window.pages["keep"].next_step().label == "Sweep again"


def test_what_is_to_be_mended_first_has_no_tick(qtbot, window):
    """A track off at rest is no fault found and yet to be repaired: the rail says so."""
    open_file(qtbot, window, sample("off_at_rest"))
    assert window.pages["read"].safe_status() == ("1 to repair first", False)
    assert ticks(window)["decide"] is False
    # Turning it is what the page Decide is for.
    assert window.pages["read"].next_step().label == "Decide what to set"
    assert window.pages["decide"].next_step().label == "Turn it live"


def test_play_that_puts_a_track_off_at_rest_is_fastened_and_swept_again(qtbot, window):
    """Turning would only move what is loose: no large button leads to values or to turning."""
    open_file(qtbot, window, sample("play_between_shafts"))
    for title in PAGES:
        assert window.pages[title].next_step().label == "Sweep again"
    assert not any(ticks(window).values())


def test_good_news_keeps_its_ticks(qtbot, window, sound):
    """A sound pedal has its ticks, and its large buttons lead on to saving."""
    open_file(qtbot, window, sound)
    assert ticks(window)["read"]
    assert ticks(window)["decide"]
    assert [window.pages[t].next_step().label for t in PAGES] == [
        "Decide what to set", "Save the values", "Save as text"]


@pytest.mark.parametrize("path", sorted(
    p for p in SAMPLES.glob("synthetic_*.csv") if "key_on" not in p.name), ids=lambda p: p.stem)
def test_no_sentence_is_called_fine_that_calls_for_something(path):
    """Sentences carry the findings' grade: what says repair or do not drive is never "Fine"."""
    findings = analyse(read_recording(path))
    for each in said(findings):
        if each.sentence.startswith("Do not drive"):
            assert each.gravity == 3
        if each.sentence.startswith("Repair"):
            assert each.gravity == 2
        if "again" in each.sentence:
            assert each.gravity >= 1, each.sentence
    if must_mend(findings):
        assert not findings.sound


def test_release_is_rounded_to_its_safe_side(qtbot, window):
    """Release of a rising track is rounded up; the large number is the one of the table.

    Release may only move away from rest (analysis/model/safe_rounding.py): nearest would name a
    level that lies below what was worked out.
    """
    open_file(qtbot, window, sample("wiper_dropouts"))
    window.go_to("decide")
    page, findings = window.pages["decide"], window.session.findings
    rows = page.values.table.shown()
    below = 0
    for column, band in findings.dead_bands.items():
        assert start_label(page, column).text() == rows[f"start of travel, {column}"]
        assert float(rows[f"release, {column}"].split()[0]) >= band.release_volts - 1e-9
        below += round(band.release_volts, 3) < band.release_volts
    assert below  # else this sample would not show the difference


def test_the_recording_on_show_is_named_on_every_page_of_it(qtbot, window):
    """Its name stands below the sentence; what was told of another recording goes away."""
    window.session.notify("Saved: sweep-of-yesterday.csv", "good")
    assert window.notice.isVisible()
    open_file(qtbot, window, sample("one_track"))
    assert not window.notice.isVisible()
    for title in ("wire_up", *PAGES):
        window.go_to(title)
        assert window.state_bar.file.text() == "synthetic_one_track.csv"


def test_a_kept_sweep_has_no_tick_while_another_is_on_show(qtbot, window):
    """The tick of Sweep belongs to the sweep that the other pages show."""
    page = window.pages["sweep"]
    page.outcome, page.kept, page.whole = "6870 rows", sample("one_track"), True
    open_file(qtbot, window, sample("one_track"))
    assert page.safe_status() == ("6870 rows", True)
    open_file(qtbot, window, sample("half_slope_pair"))
    assert page.safe_status() == ("another one is on show", False)
