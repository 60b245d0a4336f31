"""What the services ask the analysis, worked out once where it is asked the same again.

Hundreds of tests open the same few recordings with the same parameters, and more than half of the
suite's time went into that. Only the question of a service is kept, with all that it is asked
with, content for content; a test that calls the analysis itself, or replaces a part of it, gets
its answer anew.
"""

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

_MOST = 64


def asked_once(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return the function with its latest answers kept; a question that cannot be is asked anew."""
    kept: OrderedDict[bytes, Any] = OrderedDict()

    @wraps(function)
    def asked(*values: Any, **more: Any) -> Any:
        try:
            question = hashlib.sha1(pickle.dumps((values, more), 5)).digest()
        except (pickle.PicklingError, AttributeError, TypeError):
            return function(*values, **more)
        if question not in kept:
            kept[question] = function(*values, **more)
            if len(kept) > _MOST:
                kept.popitem(last=False)
        kept.move_to_end(question)
        return kept[question]

    return asked


def of_that_sweep(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return the same with answers that hold the very sweep they were asked with.

    Whether a log was judged by the sweep on show is asked by identity (`bound_stands`).
    """
    @wraps(function)
    def asked(*values: Any, **more: Any) -> Any:
        found = function(*values, **more)
        sweep = more["sweep"] if "sweep" in more else values[3] if len(values) > 3 else None
        if sweep is None or found.swept is sweep.recording:
            return found
        return replace(found, swept=sweep.recording)

    return asked


def keep_answers() -> None:
    """Let the services keep what they asked of the analysis, until the process ends."""
    from bench.services import findings, job_returns, key_on, proof, warmth

    findings.analyse = asked_once(findings.analyse)
    key_on.analyse_key_on = of_that_sweep(asked_once(key_on.analyse_key_on))
    job_returns.drive_returns = asked_once(job_returns.drive_returns)
    proof.judge_file = warmth.judge_file = asked_once(proof.judge_file)
