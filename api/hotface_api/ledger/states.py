"""The states a contributed value passes through, and who may move it.

::

    pending ──accept──> accepted ──withdraw──> withdrawn
       │ ^──reply──┐        └──(its correction is accepted)──> replaced
       ├──ask──> asked ──accept / decline / withdraw / correct: as from pending
       ├──decline──> declined
       ├──withdraw──> withdrawn
       └──correct──> replaced   (the correction is a new pending value)

Correcting an accepted or declined value leaves it as it is; the correction, once accepted,
replaces an accepted one. Nothing leads out of withdrawn and replaced.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from hotface_api.ledger.errors import Code, ConflictError

__all__ = ["ROW_STATUS", "TRANSITIONS", "acts_from", "next_state"]

TRANSITIONS: Final[Mapping[tuple[str, str], str]] = {
    ("pending", "accept"): "accepted",
    ("pending", "decline"): "declined",
    ("pending", "ask"): "asked",
    ("pending", "correct"): "replaced",
    ("pending", "withdraw"): "withdrawn",
    ("asked", "accept"): "accepted",
    ("asked", "decline"): "declined",
    ("asked", "ask"): "asked",
    ("asked", "reply"): "pending",
    ("asked", "correct"): "replaced",
    ("asked", "withdraw"): "withdrawn",
    ("accepted", "correct"): "accepted",
    ("accepted", "withdraw"): "withdrawn",
    ("accepted", "replace"): "replaced",
    ("declined", "correct"): "declined",
}
"""State and act to the state after. ``replace`` happens when a correction is accepted."""

ROW_STATUS: Final[Mapping[str, str]] = {
    "pending": "pending",
    "asked": "pending",
    "declined": "declined",
    "withdrawn": "withdrawn",
    "replaced": "withdrawn",
    "accepted": "accepted",
}
"""What the row of ``value`` says while it was never served. A row that was served keeps
``accepted`` for ever, so that an answer of an earlier revision can be given again: its dates say
until when it held."""


def acts_from(state: str) -> tuple[str, ...]:
    """Name what may be done with a value in a state, by whoever may do it."""
    return tuple(
        act for (before, act), _ in TRANSITIONS.items() if before == state and act != "replace"
    )


def next_state(state: str, act: str, value: str) -> str:
    """Give the state after an act.

    Raises
    ------
    ConflictError
        ``wrong_state`` if the act makes no sense in this state.
    """
    after = TRANSITIONS.get((state, act))
    if after is None:
        possible = acts_from(state)
        now = f"possible now: {', '.join(possible)}" if possible else "nothing more can be done"
        raise ConflictError(
            Code.WRONG_STATE,
            f"{value} is {state}; {act} makes no sense then ({now})",
            nearest=possible,
            value=value,
        )
    return after
