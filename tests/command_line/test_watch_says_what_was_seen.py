"""What `watch` says of logs by a generator of their own: no more than the readings carry."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.plain_car import Cycles, PlainCar, during

from bench.command_line import main

Watch = Callable[..., dict[str, Any]]


@pytest.fixture
def watch(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Watch:
    """Return the command itself: its JSON of a car's log, with "status" and "codes" beside."""
    def run(car: PlainCar, *options: str) -> dict[str, Any]:
        sweep = car.sweep(tmp_path / "sweep.csv")
        log, _ = car.log(tmp_path / "log.csv")
        capsys.readouterr()
        status = main(["watch", "--from", str(log), "--sweep", str(sweep), "--yes", "--json",
                       "--strict", *options])
        said: dict[str, Any] = json.loads(capsys.readouterr().out)
        codes = {f["code"]: f for f in said["found"]}
        return {**said, "status": status, "codes": codes}
    return run


def pulse(volts: float, after: float, length: float,
          only: int | None = None) -> Callable[[np.ndarray, Cycles], np.ndarray]:
    """Return a lift of so many volts."""
    made = during(after, length, only)
    return lambda times, cycles: volts * made(times, cycles)


def test_a_quiet_car_is_cleared(watch: Watch) -> None:
    """The logs below differ from a sound one only by what they hide."""
    said = watch(PlainCar())
    assert said["verdict"]["applied"] is False
    assert said["status"] == 0
    assert {c["basis"] for c in said["car"].values()} == {"measured"}


def test_a_hole_too_short_to_open_a_verdict_is_told_with_the_rule(watch: Watch) -> None:
    """A lift inside 80 ms without rows is hidden, so the claim stands with the rule beside it."""
    said = watch(PlainCar(lift=pulse(0.12, 2.0, 0.05, 1), lost=during(1.99, 0.075, 1)))
    assert said["verdict"]["applied"] is False
    assert "100 ms" in said["verdict"]["text"]
    assert said["codes"]["short holes"]["values"]["longest_s"] == pytest.approx(0.085, abs=0.011)


def test_a_hole_longer_than_the_rule_opens_the_verdict(watch: Watch) -> None:
    """0.2 s without rows may hide power: Formula SAE rules T.4.2 allow 100 ms."""
    said = watch(PlainCar(lift=pulse(0.12, 2.0, 0.15, 1), lost=during(1.98, 0.2, 1)))
    assert said["verdict"]["applied"] is None
    assert said["status"] == 1
    assert {c["basis"] for c in said["car"].values()} == {"assumed"}


def test_blank_cells_are_told_as_missing_rows_are(watch: Watch) -> None:
    """A track without readings for 70 ms is told with the same rule."""
    def blank(times: np.ndarray, cycles: Cycles, columns: dict[str, np.ndarray]) -> None:
        columns["a"][during(3.0, 0.07, 2)(times, cycles)] = np.nan
    said = watch(PlainCar(change=blank))
    assert said["verdict"]["applied"] is False
    assert "Track a gave no reading" in said["codes"]["short holes"]["text"]


@pytest.mark.parametrize(("logged", "opens"), [(True, False), (False, True)])
def test_what_the_board_measures_of_its_supply_is_held_against_its_reference(
        watch: Watch, logged: bool, opens: bool) -> None:
    """5.6 V at full scale stated, 5.1 V measured: 9 % off; a ratio to a logged supply stands."""
    car = PlainCar(board={"supply_mv": "5100"}, with_supply=logged)
    said = watch(car, "--supply-tolerance", "0.001")
    code = "reference contradicted" + ", ratio stands" * logged
    assert "5.10 V" in said["codes"][code]["text"]
    assert (said["verdict"]["applied"] is None) == opens


def test_a_clipped_supply_is_the_first_word_and_lends_no_allowance(watch: Watch) -> None:
    """A board at 4.9 V reads the car's 5.0 V as full scale: every share of it is wrong."""
    said = watch(PlainCar(bits=10, full_volts=4.9, volts=5.0))
    assert said["verdict"]["applied"] is None
    assert said["sentences"][0].startswith("The supply supply reads the end")
    assert said["car"] == {}


@pytest.mark.parametrize("tolerance", ["0.005", "0.02"])
def test_a_stated_supply_tolerance_bounds_it_even_as_the_usual_value(
        watch: Watch, tolerance: str) -> None:
    """What a user types counts as stated; left out, nothing bounds a sag.

    At 2 % the rest of 1 V may read 20 mV higher, which start of travel outlasts.
    """
    car = PlainCar(with_supply=False)
    assert watch(car, "--supply-tolerance", tolerance, "--car-allowance-volts", "0.05",
                 )["verdict"]["applied"] is False
    assert "supply not logged" in watch(replace(car), "--car-allowance-volts", "0.05")["codes"]


def test_a_wire_with_hum_is_no_key_line(watch: Watch) -> None:
    """A wire that hangs in the air moves by volts and tells no key-on: open, and what to do."""
    def marks(cycles: Cycles) -> list[tuple[float, str]]:
        return sorted([(a, "key on") for a, _ in cycles] + [(b, "key off") for _, b in cycles])
    said = watch(PlainCar(key=lambda t: 1.5 + 0.9 * np.sin(2 * np.pi * 0.7 * t), marks=marks))
    assert "stands at no two levels" in said["codes"]["key line unclear"]["text"]
    assert said["verdict"]["applied"] is None
    assert said["status"] == 1


def test_a_contact_lost_for_a_moment_leaves_the_verdict_open(watch: Watch) -> None:
    """Headline and claims agree: what a track was to read at 0 V nobody knows."""
    def drop(times: np.ndarray, cycles: Cycles, columns: dict[str, np.ndarray]) -> None:
        columns["a"][during(3.0, 0.05, 2)(times, cycles)] = 0.0
    said = watch(PlainCar(change=drop))
    assert said["codes"]["dropout in the car"]["channel"] == "a"
    assert said["verdict"]["applied"] is None


def test_a_bound_ends_at_the_end_of_the_supply(watch: Watch) -> None:
    """Lifts that differ by volts are bounded by the 4.3 V that are left above rest, not by 20."""
    def lift(times: np.ndarray, cycles: Cycles) -> np.ndarray:
        return sum((0.8 * n * during(1.0, 2.0, n)(times, cycles) for n in range(len(cycles))),
                   np.zeros(times.size))
    bound = watch(PlainCar(lift=lift))["tracks"]["a"]["lift_bound_volts"]
    assert bound == pytest.approx(4.3, abs=0.02)


def test_a_slow_beat_asks_for_a_second_rate(watch: Watch) -> None:
    """A tone 0.4 Hz beside the rate of the log swings slowly, and one log cannot tell it apart."""
    def tone(times: np.ndarray, cycles: Cycles) -> np.ndarray:
        on = during(0.0, 11.0)(times, cycles)
        return 0.02 * on * np.sin(2 * np.pi * 100.4 * times + 1.0)
    found = watch(PlainCar(lift=tone))["codes"]["shift or alias"]
    assert "slow swing of track a" in found["text"]
    assert found["values"]["other_rate_hz"] == 85.0


def test_neither_moves_is_said_of_block_means_not_of_single_readings(watch: Watch) -> None:
    """Ten millivolts for 3 s in one key-on are below the noise of a reading, and are told."""
    def rough(times: np.ndarray, cycles: Cycles, columns: dict[str, np.ndarray]) -> None:
        rng = np.random.default_rng(9)
        for name in "ab":
            columns[name] = columns[name] + np.round(rng.normal(0, 3.0, times.size))
    def lift(times: np.ndarray, cycles: Cycles) -> np.ndarray:
        on = during(0.0, 99.0)(times, cycles)
        return pulse(0.010, 4.0, 2.0, 1)(times, cycles) - 0.002 * on
    said = watch(PlainCar(lift=lift, change=rough))
    assert "Neither track moves" not in said["common"]["text"]


def test_marks_late_at_key_off_still_give_the_shift(watch: Watch) -> None:
    """Marks 1 s late put the key-off among the settled readings; 12 mV are found all the same."""
    def marks(cycles: Cycles) -> list[tuple[float, str]]:
        return sorted([(a + 0.9, "key on") for a, _ in cycles]
                      + [(b + 1.0, "key off") for _, b in cycles])
    def lift(times: np.ndarray, cycles: Cycles) -> np.ndarray:
        return 0.010 * np.logical_or.reduce([(times >= a) & (times < b) for a, b in cycles])
    shift = watch(PlainCar(with_key=False, off_s=9.0, marks=marks, lift=lift)
                  )["tracks"]["a"]["shift"]
    assert shift["low"] <= 0.012 <= shift["high"]
    assert shift["high"] - shift["low"] < 0.004


def test_the_one_screen_and_the_values_say_what_a_short_hole_hides(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Who reads only the headline, or only the values, is told too."""
    car = PlainCar(lost=during(1.99, 0.075, 1), board={"supply_mv": "5100"})
    sweep, (log, _) = car.sweep(tmp_path / "sweep.csv"), car.log(tmp_path / "log.csv")
    capsys.readouterr()
    main(["watch", "--from", str(log), "--sweep", str(sweep), "--yes"])
    said = " ".join(capsys.readouterr().out.split())
    assert "a lift would not have been seen. 1. " in said
    assert "the board measures another supply than its stated reference" in said
    assert main(["settings", str(sweep), "--key-on", str(log), "--format", "c"]) == 0
    header = capsys.readouterr().out
    assert "a lift within it was not seen" in header
    assert "5.10 V of supply" in header
