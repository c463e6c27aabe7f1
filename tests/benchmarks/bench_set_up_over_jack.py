"""The set-up over a real audio server: each state of the room, and what the steps call it.

JACK's dummy driver, real PortAudio, `secondpass set` as a command of its own; a room client in which one
thing is wrong (`jackroom.states`).

Goal: every state is called by its name and no other; the send level within a tenth of a decibel.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import report
from jackroom.rig import jack_room
from jackroom.set_up import NAMED, SENDS, Desk, called, codes, sent
from jackroom.states import State, room_in


def main() -> None:
    """Go through all states and print what they are called."""
    report.options(__doc__).parse_args()
    report.conditions("JACK, dummy driver, 48 kHz, 512 frames")
    for state in NAMED:
        with _desk(state) as desk:
            name = called(desk.set("wire", "silence", "polarity"))
        report.figure(state, f"called {name}", state, name == state)
    for state, level_db in SENDS.items():
        with _desk(state) as desk:
            outcome = sent(desk)
        found = outcome["result"]["difference_db"]
        leg = "one-leg-dead" in codes({"send level": outcome})
        right = found is not None and abs(found - level_db) <= 0.1
        right = right and leg == (state == "one leg dead")
        report.figure(f"send level, {state}", f"{found} dB", f"{level_db} ± 0.1 dB", right)


@contextmanager
def _desk(state: State) -> Iterator[Desk]:
    with (
        tempfile.TemporaryDirectory(prefix="secondpass-bench-") as folder,
        jack_room(rate=48_000, period=512, **room_in(state)) as room,  # type: ignore[arg-type]
    ):
        yield Desk(Path(folder), room)


if __name__ == "__main__":
    main()
