"""The engine's states: one table, no I/O.

Rules the table keeps:

- Nothing sounds outside ``rolling`` and ``stopping``.
- A roll starts from ``standby`` only; one that is asked for while another rolls waits in a queue and
  starts when the table is back in ``standby``.
- ``faulty`` has one way out: leaving. No sound resumes by itself; the face starts a new engine.
- ``left`` is final.
"""

from __future__ import annotations

from typing import Literal, get_args

State = Literal["closed", "standby", "rolling", "stopping", "faulty", "left"]
Happening = Literal["opened", "started", "stop", "ended", "closed", "fault", "leave"]

STATES: tuple[State, ...] = get_args(State)
"""Order of the states; their index travels in the status block."""

TABLE: dict[tuple[State, Happening], State] = {
    ("closed", "opened"): "standby",
    ("closed", "fault"): "faulty",
    ("closed", "leave"): "left",
    ("standby", "started"): "rolling",
    ("standby", "closed"): "closed",
    ("standby", "fault"): "faulty",
    ("standby", "leave"): "left",
    ("rolling", "stop"): "stopping",
    ("rolling", "ended"): "standby",
    ("rolling", "fault"): "faulty",
    ("stopping", "stop"): "stopping",
    ("stopping", "ended"): "standby",
    ("stopping", "fault"): "faulty",
    ("faulty", "ended"): "faulty",
    ("faulty", "fault"): "faulty",
    ("faulty", "leave"): "left",
}


class ImpossibleError(Exception):
    """Something happened in a state in which it must not; a mistake in the engine itself."""


def after(state: State, happening: Happening) -> State:
    """Return the state that follows; raise `ImpossibleError` where the table has no way."""
    try:
        return TABLE[state, happening]
    except KeyError:
        raise ImpossibleError(f"{happening!r} cannot happen in state {state!r}") from None


def may(state: State, happening: Happening) -> bool:
    """Return whether the table knows a way."""
    return (state, happening) in TABLE
