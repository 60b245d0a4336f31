"""A reason in words: every code has one function, in the module of what it speaks of."""

from collections import ChainMap
from functools import cache, partial

from analysis.model.finding import Reason
from bench.wording.face import TERMINAL, Face, Words


def in_words(reason: "Reason | str | None", face: Face = TERMINAL) -> str:
    """Return the words of a reason for a face; "" for none. Raise KeyError on an unknown code."""
    if reason is None or isinstance(reason, str):
        return reason or ""
    tables = [words(), _of_refusals()]
    if str(reason.values.get("pedal")).startswith("hall"):
        tables.insert(0, _of_hall_sensors())
    return ChainMap(*tables)[reason.code](reason.values, face)


# The modules of words call `in_words` for the reasons within theirs, so they are imported late.
@cache
def _of_hall_sensors() -> dict[str, Words]:
    """Return the words that a Hall sensor has of its own."""
    from bench.wording import hall_faults

    return hall_faults.WORDS


@cache
def _of_refusals() -> dict[str, Words]:
    """Return the words of what is a reason here and an error there."""
    from bench.wording import refusals

    return {code: partial(refusals.line_of, code) for code in refusals.WORDS}


@cache
def words() -> dict[str, Words]:
    """Return the words of every code of a reason."""
    from bench.wording import (
        board_check,
        compare,
        dead_band,
        doubts,
        faults,
        key_on_allowance,
        key_on_reasons,
        remedies,
        senders,
        settings,
        tones,
    )

    return {**doubts.WORDS, **dead_band.WORDS, **settings.WORDS, **remedies.WORDS,
            **compare.WORDS, **faults.WORDS, **key_on_allowance.WORDS,
            **key_on_reasons.WORDS, **board_check.WORDS, **tones.WORDS,
            **senders.words()}
