"""What the key-on page says is plain: no powers of ten, no minus nothing, no proof that is none.

The words are the project's own: no outside source. Truth of the logs: sample_sweeps/KEY_ON.md.
"""

import re
import signal
from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.key_on.results import Interval
from analysis.model.recording import CONTACTOR
from analysis.pedal.settings import Setting
from analysis.simulation.car import Car, CarTrack, drive
from bench.command_line import main
from bench.files.exports.key_on_text import key_on_text
from bench.services.key_on import open_key_on
from bench.wording.key_on_found import CONTACTOR_WORDS
from bench.wording.key_on_sentences import log_sentences, millivolts, rate_text
from bench.wording.reasons import in_words

SAMPLES = ROOT / "sample_sweeps"


def sample(name: str, sweep: str | None = None):
    """Return the findings of a sample log, judged by a sample sweep where one is named."""
    return open_key_on(SAMPLES / f"synthetic_key_on_{name}.csv",
                       sweep=None if sweep is None else SAMPLES / f"synthetic_{sweep}.csv")


@pytest.mark.parametrize(("value", "text"), [
    (117_000.0, "120 000"), (1234.0, "1 200"), (99.6, "100"), (42.4, "42"), (5.0, "5"),
    (3.14, "3.1"), (0.05, "0.05"), (3.2e-5, "0.000032"), (1e-9, "less than a millionth"),
    (float("nan"), "unknown")])
def test_a_rate_is_written_without_powers_of_ten(value, text) -> None:
    assert rate_text(value) == text


def test_a_number_is_not_parted_at_the_end_of_a_line() -> None:
    """The bound of a short log runs to five digits and more, wherever it falls in its line."""
    found = sample("one_track_lifts", "healthy_pair")
    for pad in range(78):
        moved = replace(found, notes=(f"{'x' * pad} 120 000 in 1000 h",))
        assert "120 000" in key_on_text(moved)


def test_nothing_is_not_negative() -> None:
    assert millivolts(Interval(-1e-7, -2e-6, 1e-6)).startswith("+0.00 mV (+0.00 to +0.00 mV")
    for name in ("one_track_lifts", "quiet_car", "sagging_supply"):
        assert not re.search(r"-0\.0+(?![0-9])", key_on_text(sample(name)))


def test_a_track_that_only_sinks_lifts_nothing() -> None:
    """60 mV of ground take the falling track b away from pressed; a third of it is settling."""
    found = sample("ground_offset_opposed")
    text = " ".join(key_on_text(found).split())
    assert not re.search(r"(lift|pressed|seen) -[0-9]", text)
    far = -1e3 * found.tracks["b"].excursion_volts
    assert far == pytest.approx(57.4, abs=6.0)
    assert f"never beyond the rest before it, {far:.1f} mV short at least" in text
    assert f"no lift (always {far:.1f} mV short of the rest before, or more)" in text


def test_the_table_and_the_sentence_agree_on_what_counts() -> None:
    text = key_on_text(sample("ground_offset_opposed"))
    assert "b 30.0 mV (assumed)" in " ".join(text.split())
    counts = re.findall(r"^allowed for car +(.*)$", text, re.M)
    assert counts == [counts[0], "30.0 mV (assumed, contactor not stated)"]
    assert counts[0].endswith(" mV (a bound from 4 key-ons)")


def test_what_is_no_proof_is_not_called_one() -> None:
    found = sample("ground_offset")
    assert sum(s.startswith("No proof for track ") for s in log_sentences(found)) == 2
    assert not any(s.startswith("Proof for") for s in log_sentences(found))
    assert ("No proof for track a: no start of travel was given, so there is nothing to pass."
            in log_sentences(found))
    settings = [Setting("start_of_travel", n, 0.5, "V", "") for n in "ab"]
    settings += [Setting("full_travel", n, 4.2, "V", "") for n in "ab"]
    beyond = analyse_key_on(found.recording, settings=settings)
    (said,) = [s for s in log_sentences(beyond) if s.startswith("No proof for track a: ")]
    assert "the settled rest itself lies beyond start of travel for 100% of the time" in said
    assert "No proof: " not in said


def test_too_little_rest_never_reads_as_enough() -> None:
    """Whatever the length of the log, what it says it has is less than what it asks for."""
    found = set()
    for tenths in range(14):
        car = Car(cycles=3, on_s=21.0 + 0.02 * tenths, off_s=5.0, rate_hz=100.0,
                  tracks=(CarTrack("a", 0.7, 4.2),))
        why = in_words(analyse_key_on(drive(car)[0]).proofs["a"].why)
        if "log at least" in why:
            found.add(float(re.search(r"([0-9.]+) s of settled", why)[1]))
    assert found
    assert max(found) < 60.0


def test_the_foot_log_asks_for_more_than_it_has() -> None:
    """With the sweep this log has a few hundredths of a second less than 60 s of settled rest."""
    said = " ".join(log_sentences(sample("foot_and_brake", "healthy_pair")))
    assert "60.0 s of settled rest" not in said


def test_events_are_counted_in_words_that_fit() -> None:
    said = " ".join(log_sentences(sample("one_track_lifts", "healthy_pair")))
    assert "(1 events" not in said
    log = sample("one_track_lifts").recording
    a = log.channel("a").readings.copy()
    a[int(np.searchsorted(log.time_s, 15.0))] *= 2
    once = replace(log, channels=tuple(
        replace(c, readings=a) if c.column == "a" else c for c in log.channels))
    found = analyse_key_on(once, settings=[Setting("start_of_travel", "a", 1.0, "V", "")])
    assert found.proofs["a"].events == 1
    assert "(1 event in " in " ".join(log_sentences(found))


def test_the_contactor_has_one_word() -> None:
    """The page says of the contactor what the option and the header say."""
    assert all(CONTACTOR_WORDS[word] == word for word in CONTACTOR)


def test_a_judged_start_of_travel_is_the_one_on_the_sheet(capsys) -> None:
    """Both numbers come from one sweep: the sheet's, and the one that readings passed."""
    sweep = str(SAMPLES / "synthetic_healthy_pair.csv")
    log = str(SAMPLES / "synthetic_key_on_one_track_lifts.csv")
    main(["settings", sweep, "--more"])
    sheet = re.search(r"start of travel, b\s+([0-9.]+)", capsys.readouterr().out)
    assert sheet is not None
    main(["watch", "--from", log, "--sweep", sweep, "--more"])
    told = " ".join(capsys.readouterr().out.split())
    judged = re.search(r"start of travel judged here \((?:a [0-9.]+ V, )?b ([0-9.]+) V\)", told)
    assert judged is not None
    assert float(judged[1]) == float(sheet[1])
    typed = main(["watch", "--from", log, "--set", "b.start_of_travel=0.8123", "--more"])
    assert typed == 0
    assert "(b 0.8123 V)" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_the_signals_are_as_they_were_after_a_log(name, tmp_path) -> None:
    number = getattr(signal, name, None)
    if number is None:
        pytest.skip("this system has no such signal")

    def mine(*_: object) -> None:
        """Stand for a handler of the program that calls."""

    former = signal.signal(number, mine)
    try:
        assert main(["watch", "--board", "simulated", "--fast", "--cycles", "1", "--out",
                     str(tmp_path / "log.csv")]) == 0
        assert signal.getsignal(number) is mine
    finally:
        signal.signal(number, former)
