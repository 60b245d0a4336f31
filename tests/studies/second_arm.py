"""The arm of the second pedal and the foot on it, integrated in time (see second_pedal.py)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

STEP_S = 0.001


@dataclass(frozen=True)
class Harm:
    """Hold one harm done to a pedal, named as the findings name it, and how bad it is.

    "slow return": seconds of a damped lift-off. "no return": % of travel at which pivot friction
    holds the arm once. "noise": rms mV at a spot of film where contact resistance jumps about.
    "flat spot": % of travel of film that is bridged. "step": % of travel a shaft turns in its
    set screw.
    """

    kind: str
    size: float


@dataclass(frozen=True)
class Task:
    """Hold what the foot intends: its aim over time, when it is on the pedal, what is asked."""

    aim: np.ndarray
    on: np.ndarray
    rests: tuple[tuple[float, float], ...]
    holds: tuple[tuple[float, float], ...]
    asked: tuple[tuple[float, str], ...]
    lift_offs: tuple[float, ...]
    seconds: float


def minimum_jerk(u: np.ndarray) -> np.ndarray:
    """Return the minimum-jerk way from 0 to 1 (Flash and Hogan 1985)."""
    u = np.clip(u, 0, 1)
    return u**3 * (10 - 15 * u + 6 * u**2)


def foot_task(rng: np.random.Generator, slow_return_s: float = 0.0) -> Task:
    """Return one person's foot over a guided sweep; it waits for a pedal that is slow."""
    slow, quick = int(rng.integers(4, 9)), int(rng.integers(2, 6))
    late = rng.uniform(0.15, 3.0)
    pace = rng.uniform(0.8, 3.0)
    dwell = rng.uniform(0.7, 2.5)
    knots = [(0.0, 0.0)]  # (time, aimed travel); straight aims are smoothed to minimum jerk
    moves: list[tuple[float, float, float, float]] = []
    rests, holds, asked, lifts, off = [], [], [(0.0, "rest")], [], []
    now = rng.uniform(1.2, 4.0)
    rests.append((0.0, now))
    off.append((0.0, now - 0.15))
    for cycle in range(slow + quick):
        fast = cycle >= slow
        asked.append((now - late * rng.uniform(0.3, 1.0), "press"))
        took = (rng.uniform(0.25, 0.7) if fast else pace * rng.lognormal(0, 0.2))
        level = 0.0
        # A person presses in one to three submovements, at times hesitating or easing back.
        stops = [] if fast else sorted(rng.uniform(0.25, 0.8, int(rng.integers(0, 3))))
        for aim in [*stops, 1.0]:
            part = max(0.12, took * abs(aim - level))
            moves.append((now, part, level, aim))
            now += part
            level = aim
            if aim < 1.0 and rng.random() < 0.4:
                back = level - rng.uniform(0.0, 0.08)
                pause = rng.uniform(0.1, 0.6)
                moves.append((now, pause, level, back))
                now, level = now + pause, back
        held = max(0.45, dwell * rng.lognormal(0, 0.2))
        holds.append((now, now + held))
        asked.append((now - late * rng.uniform(0.0, 0.4), "hold"))
        now += held
        asked.append((now - late * rng.uniform(0.3, 1.0), "release"))
        if fast:
            lifts.append(now)
            gone = now
            moves.append((now, 0.01, 1.0, 0.0))
            now += 0.5 + 1.5 * slow_return_s
        else:
            took = pace * rng.lognormal(0, 0.2)
            moves.append((now, took, 1.0, 0.0))
            now += took
            now += slow_return_s
            gone = now
        rest = max(0.9, dwell * rng.lognormal(0.2, 0.25))
        off.append((gone, now + rest - 0.1))
        rests.append((now + 0.1, now + rest))
        asked.append((now - late * rng.uniform(0.0, 0.3), "rest"))
        now += rest
    end = now + (rng.uniform(0.5, 2.0) if rng.random() < 0.7 else 0.0)
    off[-1] = (off[-1][0], end + 1.0)
    rests[-1] = (rests[-1][0], end)
    t = np.arange(0.0, end, STEP_S)
    aim = np.interp(t, *np.array(knots).T) if len(knots) > 1 else np.zeros(t.size)
    for start, took, low, high in moves:
        i, j = np.searchsorted(t, [start, start + took])
        aim[i:j] = low + (high - low) * minimum_jerk((t[i:j] - start) / took)
        aim[j:] = high
    on = np.ones(t.size, dtype=bool)
    for start, stop in off:
        i, j = np.searchsorted(t, [start, stop])
        on[i:j] = False
    return Task(aim, on, tuple(rests), tuple(holds), tuple(asked), tuple(lifts), end)


@dataclass(frozen=True)
class Arm:
    """Hold one arm, and the foot on it over time: columns of shape (n,), the rest one each."""

    steps: int
    intended: np.ndarray
    on: np.ndarray
    noises: np.ndarray
    seizing: np.ndarray
    stuck_at: float
    preload: float
    rate: float
    dry: float
    stiction: float
    damping: float
    stop: float
    stop_damping: float
    creep: float
    creep_s: float
    muscle: float
    muscle_damping: float
    omega: float
    zeta: float
    drive: float

    @cached_property
    def travel(self) -> np.ndarray:
        """Return its travel, shape (steps,), by semi-implicit Euler.

        Number by number: one arm takes a tenth of a second, and most callers want a few of many.
        """
        preload, rate, dry, stiction = self.preload, self.rate, self.dry, self.stiction
        damping, stop, stop_damping = self.damping, self.stop, self.stop_damping
        creep, creep_s, muscle, push = self.creep, self.creep_s, self.muscle, self.muscle
        muscle_damping, drive, stuck_at = self.muscle_damping, self.drive, self.stuck_at
        loss, stiffness = 2 * self.zeta * self.omega, self.omega**2
        s = v = set_in = shake = shake_speed = 0.0
        result = []
        columns = (self.intended, self.on, self.noises, self.seizing)
        for intended, on, noise, seizing in zip(*(c[:self.steps].tolist() for c in columns),
                                                strict=True):
            shake_speed += STEP_S * (drive * noise - loss * shake_speed - stiffness * shake)
            shake += STEP_S * shake_speed
            wanted = muscle * (intended + shake - s) - muscle_damping * v
            foot = min(max(wanted, 0.0), push) * on
            low, high = set_in - s, s - 1.0
            bump = max(0.0, stop * low - stop_damping * v) if low > 0 else 0.0
            if high > 0:
                bump -= max(0.0, stop * high + stop_damping * v)
            force = foot - preload - rate * s - damping * v + bump
            # Karnopp: below a small speed the arm sticks while static friction can hold it.
            slow, held = abs(v) < 2e-3, abs(force) <= stiction
            along = force if slow else v
            new = v + STEP_S * (force - dry * ((along > 0) - (along < 0)))
            # Dry friction may stop a moving arm but never turn it.
            v = 0.0 if held and (slow or new * v < 0) else new
            if seizing and s <= stuck_at and v < 0:
                v = 0.0
            s += STEP_S * v
            set_in += STEP_S * ((-creep if low > -1e-4 else 0.0) - set_in) / creep_s
            result.append(s)
        return np.array(result)


def arms_of(
    tasks: list[Task], rng: np.random.Generator, bouncy: bool, harm: Harm | None,
) -> list[Arm]:
    """Return the arms under these feet, none of them integrated yet.

    Everything is per unit inertia and full travel: forces in 1/s^2. bouncy: hard stops, off
    which a released arm springs back by a third to a half of its travel.
    """
    stuck_at = harm.size / 100 if harm is not None and harm.kind == "no return" else -1.0
    count, pedals = max(t.aim.size for t in tasks), len(tasks)
    aim, on = np.zeros((count, pedals)), np.zeros((count, pedals))
    for k, task in enumerate(tasks):
        aim[: task.aim.size, k] = task.aim
        on[: task.on.size, k] = task.on
    preload, rate = rng.uniform(40, 110, pedals), rng.uniform(20, 140, pedals)
    dry = preload * rng.uniform(0.05, 0.45, pedals)
    stiction = dry * rng.uniform(1.0, 1.35, pedals)
    damping = rng.uniform(0.5, 6.0, pedals)
    if harm is not None and harm.kind == "slow return":
        # Where damping rules: damping * ds/dt = -(preload - dry + rate * s).
        damping = harm.size * rate / np.log((preload - dry + rate) / (preload - dry))
    stop = rng.uniform(1.2e5, 2.5e5, pedals)
    stop_damping = 2 * rng.uniform(*((0.07, 0.3) if bouncy else (0.42, 0.7)), pedals) * stop**0.5
    creep, creep_s = rng.uniform(0, 6e-4, pedals), rng.uniform(0.2, 2.0, pedals)
    muscle, muscle_damping = rng.uniform(1500, 5000, pedals), rng.uniform(50, 110, pedals)
    # Tremor: noise through a lightly damped 8 Hz muscle, integrated along with the arm.
    tremor = rng.uniform(0.0, 0.006, pedals)
    omega, zeta = 2 * np.pi * rng.uniform(5, 10, pedals), 0.3
    drive = tremor * np.sqrt(4 * zeta * omega**3 / STEP_S)
    # Equilibrium aims: what the foot must intend to hold against the spring.
    intended = aim * 1.04 + (preload + rate * aim) / muscle
    seizing = np.zeros((count, pedals), dtype=bool)
    if stuck_at >= 0:
        for k, task in enumerate(tasks):
            # The third return is caught, and freed by the foot's next press.
            i, j = (round(t / STEP_S) for t in (task.holds[2][1], task.holds[3][0] - 0.05))
            seizing[i:j, k] = True
    noises = rng.standard_normal((count, pedals))
    parts = {"preload": preload, "rate": rate, "dry": dry, "stiction": stiction,
             "damping": np.broadcast_to(damping, pedals), "stop": stop,
             "stop_damping": stop_damping, "creep": creep, "creep_s": creep_s, "muscle": muscle,
             "muscle_damping": muscle_damping, "omega": omega, "zeta": np.full(pedals, zeta),
             "drive": drive}
    return [Arm(tasks[k].aim.size, intended[:, k], on[:, k], noises[:, k], seizing[:, k], stuck_at,
                **{name: float(part[k]) for name, part in parts.items()}) for k in range(pedals)]
