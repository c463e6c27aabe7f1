"""How loud the returns are while nothing is sent: under that, nobody answers."""

from __future__ import annotations

import tempfile
from pathlib import Path

from audio.jobs.clicks import quiet_under
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.rolls import captured, dead_amp, refuse_broken
from audio.vocab.messages import DeadEnd

IDLE_S = 0.5


def dead_end(deck: Deck, *, loudest_dbfs: float) -> DeadEnd:
    """Listen for a moment, and return when sending must stop because no return answers.

    `StoppedError` if the listener asks to stop meanwhile.

    Parameters
    ----------
    deck
        Its returns are listened to.
    loudest_dbfs
        Largest RMS of any 50 ms of what will be sent, as it is sent.

    Returns
    -------
    DeadEnd
        For the roll to come.
    """
    returns = deck.wiring.returns
    with tempfile.TemporaryDirectory(prefix="secondpass-idle-") as scratch:
        paths = [Path(scratch) / f"{one.input}.wav" for one in returns]
        ended = deck.play(
            what="listen",
            length_frames=round(IDLE_S * deck.opened.sample_rate),
            captures=tuple(
                captured(path, input_number=one.input)
                for path, one in zip(paths, returns, strict=True)
            ),
        )
        if ended.reason == "stopped":
            raise StoppedError
        refuse_broken(ended, fault=deck.fault, what="the noise")
        idle = {
            one.input: deck.worker.inspect(path).loudest_dbfs
            for path, one in zip(paths, returns, strict=True)
        }
    return dead_amp(deck.wiring, quiet_under(deck.wiring, idle), loudest_dbfs=loudest_dbfs)
