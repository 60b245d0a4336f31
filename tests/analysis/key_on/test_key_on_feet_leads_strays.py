"""What a key-on log is judged by: feet, leads, stray key-ons, the key wire, the rest.

Every log here is built by hand, row by row, apart from analysis.simulation.car.
"""

from dataclasses import replace

import numpy as np
import pytest

from analysis.key_on import analyse_key_on
from analysis.key_on.strays import find_strays, share_bound, stray_findings, stray_rows
from analysis.model.recording import Channel, Mark, Recording
from analysis.parameters import Parameters
from analysis.pedal.settings import Setting
from bench.wording.key_on_found import log_sentence
from bench.wording.key_on_reasons import common_text
from bench.wording.key_on_sentences import log_sentences

RATE = 200.0
OFF_S, ON_S = 5.0, 12.0
REST = {"a": 0.75, "b": 0.40}
SPAN = {"a": 3.5, "b": 1.75}
STARTS = tuple(Setting(name, c, REST[c] + share * SPAN[c], "V", "as built") for c in "ab"
               for name, share in (("start_of_travel", 0.04), ("full_travel", 1.0)))


def times_of(cycles):
    return np.arange(round(cycles * (OFF_S + ON_S) * RATE + 3 * RATE)) / RATE


def key_ons(cycles):
    return [OFF_S + i * (OFF_S + ON_S) for i in range(cycles)]


def log(cycles=6, seed=0, foot=None, volts=None, key=None, marks=(), extra=(), supply=True,
        change=None):
    """Return a log: foot(t) is travel from 0 to 1; volts(column, t) is added by the car."""
    rng = np.random.default_rng(seed)
    time = times_of(cycles)
    on = np.zeros(time.size, dtype=bool)
    for start in key_ons(cycles):
        on |= (time >= start) & (time < start + ON_S)
    travel = np.zeros(time.size) if foot is None else foot(time)
    channels = []
    for name in "ab":
        level = REST[name] + SPAN[name] * travel + rng.normal(0, 0.0008, time.size)
        if volts is not None:
            level = level + volts(name, time)
        channels.append(Channel(name, "track", np.round(level / 0.0012) * 0.0012, "V"))
    if supply:
        channels.append(Channel("supply", "supply", np.full(time.size, 5.0), "V",
                                nominal_volts=5.0))
    line = 12.0 * on if key is None else key(time, on)
    channels.append(Channel("key", "key", np.asarray(line, dtype=float), "V"))
    channels += [Channel(n, role, np.asarray(make(time), dtype=float), "V")
                 for n, role, make in extra]
    if change is not None:
        channels = [replace(c, readings=change(c.column, time, c.readings)) for c in channels]
    rows = tuple(Mark(round(s * RATE), text) for s, text in marks)
    return Recording(time_s=time, channels=tuple(channels), purpose="key-on", marks=rows,
                     title="by hand")


def judged(recording, **more):
    return analyse_key_on(recording, settings=STARTS, contactor="closed", **more)


def codes(found):
    return [f.code for f in found.found]


def press(at, long=2.0, depth=0.3, edge=0.25):
    def foot(time):
        return depth * np.minimum(np.clip((time - at) / edge, 0, 1),
                                  np.clip((at + long - time) / edge, 0, 1))
    return foot


def test_a_log_in_which_nothing_happens_holds_and_nothing_is_found_in_it():
    found = judged(log())
    assert found.found == ()
    assert found.verdict.applied is False
    assert {c.basis for c in found.car.values()} == {"measured"}
    assert max(c.volts for c in found.car.values()) < 0.03


# --- the foot
def test_what_looks_like_a_foot_leaves_the_verdict_open_and_the_assumed_allowance():
    found = judged(log(foot=press(10.0)))
    assert found.verdict.applied is None
    assert "foot not stated" in codes(found)
    assert {(c.basis, c.volts) for c in found.car.values()} == {
        ("assumed", Parameters().car_allowance_volts)}


@pytest.mark.parametrize("how", ["mark", "brake", "switch"])
def test_a_stated_foot_leaves_the_verdict_and_the_measured_allowance_as_they_are(how):
    def during(time):
        return 12.0 * ((time > 10.2) & (time < 11.8))
    more = {"mark": {"marks": [(10.1, "foot")]},
            "brake": {"extra": [("brakes", "brake", during)]},
            "switch": {"extra": [("switch1", "other", during)]}}[how]
    found = judged(log(foot=press(10.0), **more))
    assert [p.stated for p in found.presses] == [True]
    assert found.verdict.applied is False
    assert {c.basis for c in found.car.values()} == {"measured"}


@pytest.mark.parametrize("text", ["no foot", "foot off", "cloudy", "key on"])
def test_a_mark_that_says_something_else_states_no_foot(text):
    assert judged(log(foot=press(10.0), marks=[(10.1, text)])).verdict.applied is None


def test_a_mark_far_from_the_movement_states_no_foot():
    assert judged(log(foot=press(10.0), marks=[(30.0, "foot")])).verdict.applied is None


def blocks(at, volts, long=1.0, edge=0.0):
    """Return volts on both tracks at these times, with edges of so many seconds."""
    def add(name, time):
        total = np.zeros(time.size)
        for start in at:
            up = (np.clip((time - start) / edge, 0, 1) if edge else (time >= start) * 1.0)
            down = (np.clip((start + long - time) / edge, 0, 1) if edge
                    else (time < start + long) * 1.0)
            total += (volts if np.isscalar(volts) else volts[name]) * np.minimum(up, down)
        return total
    return add


# Each sign alone: volts as the pedal moves them and a soft edge, but the same delay each time;
# equal volts where the pedal moves a twice as far as b; an edge from one reading to the next.
PEDAL = {"a": 0.7, "b": 0.35}


@pytest.mark.parametrize(("at", "volts", "edge", "word"), [
    ([s + 2.345 for s in key_ons(6)], PEDAL, 0.2, "after the key at every key-on"),
    ([9.1, 31.7], 0.5, 0.2, "equal volts"),
    ([9.1, 31.7], PEDAL, 0.0, "from one reading to the next")])
def test_electricity_that_looks_like_a_foot_is_named_and_judged(at, volts, edge, word):
    found = judged(log(volts=blocks(at, volts, edge=edge)))
    (one,) = [f for f in found.found if f.code == "electrical, not a foot"]
    assert one.gravity == 3
    assert word in log_sentence(one)
    assert one.values["times"] == len(at)
    assert found.verdict.applied is True
    assert found.car == {}
    assert found.presses == ()


def test_presses_of_one_person_at_varying_delays_are_no_electricity():
    # A person who presses on command still scatters by tenths of a second (common practice).
    rng = np.random.default_rng(4)
    at = [s + 3.0 + rng.uniform(-0.3, 0.3) for s in key_ons(6)]
    found = judged(log(volts=blocks(at, PEDAL, edge=0.15)))
    assert codes(found) == ["foot not stated"]


# --- leads
def stuck(name, level, start, long):
    def change(column, time, readings):
        if column != name:
            return readings
        return np.where((time >= start) & (time < start + long), level, readings)
    return change


@pytest.mark.parametrize(("name", "level", "applied"), [
    ("a", 0.0, None), ("b", 0.004, None), ("a", 5.0, True), ("b", 4.998, True)])
def test_a_lead_that_breaks_in_the_car_is_named_with_track_time_and_gravity(name, level, applied):
    found = judged(log(change=stuck(name, level, 9.0, 2.0)))
    (lead,) = [f for f in found.found if f.code == "lead at a rail"]
    assert (lead.channel, lead.gravity) == (name, 3)
    assert lead.time_s == pytest.approx(9.0, abs=1.5 / RATE)
    assert lead.values["longest_s"] == pytest.approx(2.0, abs=2.0 / RATE)
    assert found.verdict.applied is applied
    assert found.car == {}
    assert "either track moves" not in common_text(found.common)
    # What a broken lead reads is no noise of the track: 0.8 mV were put in.
    assert found.tracks[name].noise_after_volts == pytest.approx(0.0009, abs=0.0003)
    assert log_sentences(found)[0].startswith(log_sentence(lead))


def test_the_fault_limit_that_a_broken_lead_passes_is_named():
    limits = (*STARTS, Setting("fault_low", "a", 0.31, "V", ""))
    found = analyse_key_on(log(change=stuck("a", 0.0, 9.0, 2.0)), settings=limits)
    (lead,) = [f for f in found.found if f.code == "lead at a rail"]
    assert lead.values["fault_limit_volts"] == 0.31
    assert "0.310 V" in log_sentence(lead)


def test_a_touch_of_a_rail_for_a_moment_is_a_lost_contact_and_no_broken_lead():
    found = judged(log(change=stuck("a", 0.0, 9.0, 0.05)))
    assert codes(found) == ["dropout in the car"]
    assert {c.basis for c in found.car.values()} == {"assumed"}


def test_a_pedal_that_the_key_feeds_has_no_broken_leads():
    """Without its supply both tracks read 0 V until the key is on."""
    def change(column, time, readings):
        on = np.zeros(time.size, dtype=bool)
        for start in key_ons(6):
            on |= (time >= start) & (time < start + ON_S)
        return np.where(on, readings, 0.0) if column in "ab" else readings
    assert "lead at a rail" not in codes(judged(log(supply=False, change=change)))


# --- neither track moves
def test_neither_moves_is_said_only_when_it_is_true_of_each_key_on():
    one = judged(log(volts=lambda name, t: 0.02 * (name == "a") * ((t > 24.0) & (t < 25.0))))
    assert one.common.kind == "none"
    assert "either track moves" not in common_text(one.common)
    assert "key-on 2 track a moved by 20" in common_text(one.common)
    assert "Neither track moves" in common_text(judged(log()).common)


# --- one key-on in many
def test_the_share_of_strays_is_bounded_as_published_tables_have_it():
    # Clopper & Pearson 1934; the two-sided 95 % limits of k = 1 of n = 20, of which the upper
    # one (24.87 %) is the one-sided 97.5 % bound: NIST/SEMATECH-style tables, from memory; and
    # 1 - 0.05^(1/20) for k = 0, by hand from (1 - p)^20 = 0.05.
    assert share_bound(1, 20, 0.975) == pytest.approx(0.2487, abs=5e-5)
    assert share_bound(0, 20, 0.95) == pytest.approx(1 - 0.05 ** (1 / 20), rel=1e-9)
    assert share_bound(20, 20, 0.95) == 1.0


@pytest.mark.parametrize(("found", "among"), [(1, 20), (2, 30), (3, 59), (1, 4)])
def test_the_bound_is_that_of_another_library(found, among):
    """scipy.stats has its own Clopper-Pearson interval: exact, two-sided, one tail each."""
    from scipy.stats import binomtest

    other = binomtest(found, among).proportion_ci(0.9, method="exact").high
    assert share_bound(found, among, 0.95) == pytest.approx(other, rel=1e-9)


def stray(number, volts):
    at = key_ons(20)[number - 1] + 3.0

    def add(name, time):
        return volts * (name == "a") * ((time >= at) & (time < at + 1.0))
    return add


def test_one_key_on_in_twenty_that_lifts_is_named_and_withdraws_the_promise():
    found = judged(log(cycles=20, volts=stray(7, 0.035)))
    (one,) = [f for f in found.found if f.code == "one key-on lifts"]
    assert (one.channel, one.gravity) == ("a", 2)
    assert one.values["first_key_on"] == 7
    assert one.values["of"] == 20
    assert one.values["furthest_volts"] == pytest.approx(0.035, abs=0.004)
    # One-sided at 95 %: beta(2, 19) has its 95 % quantile at 0.2161 (tables, from memory).
    assert one.values["share_bound"] == pytest.approx(0.2161, abs=5e-4)
    assert one.values["chance_bound"] > 0.99
    assert np.isnan(found.tracks["a"].lift_bound_volts)
    assert found.car == {}
    assert found.verdict.applied is False
    assert log_sentence(one) in log_sentences(found)


def test_where_so_few_key_ons_follow_that_the_bound_allows_it_the_promise_stays():
    rng = np.random.default_rng(2)
    lifts = rng.normal(0.004, 0.001, 400)
    lifts[17] = 0.05
    parameters = Parameters(key_ons=1)
    strays = find_strays("a", lifts, np.zeros(400), 0.0005, 0.0012, parameters)
    assert strays is not None
    assert strays.numbers == (18,)
    (one,) = stray_findings({"a": strays}, parameters)
    assert one.gravity == 1


@pytest.mark.parametrize("cycles", [4, 6, 10, 20, 50])
@pytest.mark.parametrize("population", ["normal", "gumbel"])
def test_ordinary_scatter_is_seldom_taken_for_a_stray(cycles, population):
    """At most 0.5 % of each measure: the aim is 1 % of logs in all."""
    rng = np.random.default_rng(cycles)
    accused = 0
    for _ in range(1500):
        values = getattr(rng, population)(0.008, 0.004, cycles)
        accused += stray_rows(values, 1e-4, extremes=population == "gumbel").any()
    # 0.25 % expected; ten of 1500 is more than three standard deviations of chance above.
    assert accused <= 10


@pytest.mark.parametrize("cycles", [12, 20, 40])
def test_a_stray_of_twenty_times_the_scatter_is_found(cycles):
    rng = np.random.default_rng(1)
    hits = 0
    for _ in range(100):
        values = rng.gumbel(0.004, 0.001, cycles)
        where = rng.integers(cycles)
        values[where] += 0.02
        hits += bool(stray_rows(values, 1e-4, extremes=True)[where])
    assert hits >= 85


def test_three_key_ons_are_too_few_to_tell_a_stray():
    assert not stray_rows(np.array([0.001, 0.001, 0.5]), 1e-4, extremes=True).any()


# --- the key wire
def test_a_dip_of_the_key_line_shorter_than_half_a_second_is_one_key_on():
    def key(time, on):
        line = 12.0 * on
        for start in key_ons(6):
            line[(time >= start + 4) & (time < start + 4.4)] = 1.0
        return line
    assert len(judged(log(key=key)).cycles) == 6


def test_a_key_off_of_more_than_half_a_second_is_two_key_ons():
    def key(time, on):
        line = 12.0 * on
        line[(time >= 10.0) & (time < 10.7)] = 0.0
        return line
    assert len(judged(log(key=key)).cycles) == 7


@pytest.mark.parametrize("level", [0.0, 12.0])
def test_a_key_wire_that_never_moves_is_told_and_opens_the_verdict(level):
    marks = [(s, "key on") for s in key_ons(6)] + [(s + ON_S, "key off") for s in key_ons(6)]
    found = judged(log(key=lambda t, on: np.full(t.size, level), marks=marks))
    (still,) = [f for f in found.found if f.code == "key line still"]
    assert still.channel == "key"
    assert still.values["level_volts"] == level
    assert len(found.cycles) == 6
    assert found.verdict.applied is None
    assert not any(c.basis == "measured" for c in found.car.values())


# --- a tone that looks like a shift
def test_a_shift_is_told_with_the_second_rate_that_would_show_an_alias():
    """A tone at the very rate of the log reads as a constant (sampling theorem, Shannon 1949)."""
    def tone(name, time):
        on = np.zeros(time.size, dtype=bool)
        for start in key_ons(6):
            on |= (time >= start) & (time < start + ON_S)
        return 0.02 * on * np.sin(2 * np.pi * RATE * time + 1.0)
    found = judged(log(volts=tone))
    (one,) = [f for f in found.found if f.code == "shift or alias"]
    assert found.tracks["a"].shift.value == pytest.approx(0.02 * np.sin(1.0), abs=0.001)
    assert one.values["other_rate_hz"] == pytest.approx(170.0)
    assert one.gravity == 1
    # At that rate the same tone is 30 Hz away from a multiple: no constant any more.
    assert 170.0 - abs(RATE - 170.0) > 100.0
    assert log_sentence(one) in log_sentences(found)


# --- numbers that are bounds
def test_a_bound_is_called_one_with_the_key_ons_behind_it():
    found = judged(log())
    (said,) = [s for s in log_sentences(found) if s.startswith("Measured allowance")]
    assert "a at most" in said
    assert "a bound from 6 key-ons" in said


def test_a_return_of_the_pedal_within_a_key_on_is_no_lift_by_the_car():
    """A press in one of six key-ons leaves the pedal 6 mV higher: the pedal's doing."""
    furthest = np.array([0.0030, 0.0032, 0.0031, 0.0029, 0.0092, 0.0031])
    settled = np.array([0.0001, 0.0, -0.0001, 0.0, 0.0060, 0.0])
    parameters = Parameters()
    pressed = np.array([0.0, 0.0, 0.0, 0.0, 0.009, 0.0])
    assert find_strays("a", furthest, settled, 0.001, 0.0012, parameters) is not None
    assert find_strays("a", furthest, settled, 0.001, 0.0012, parameters, pressed) is None
    # What lifts further than a return may is the car's, press or no press.
    furthest[4], settled[4] = 0.045, 0.042
    found = find_strays("a", furthest, settled, 0.001, 0.0012, parameters, pressed)
    assert found is not None
    assert found.numbers == (5,)
