"""Somebody at the view of what there is to listen to, with a runner that only keeps what it is told."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import cast

from invented import DI_FRAMES, RATE, Names, evening, listened, sounds, variant
from puppet import Puppet
from screens import Seat, seated

from audio.jobs import news
from audio.jobs.runner import Runner
from audio.vocab.status import Status

NAMES = Names()
FIRST, SECOND = variant(NAMES, 1), variant(NAMES, 2)


@asynccontextmanager
async def at_the_sounds(
    puppet: Puppet, *, names: Names = NAMES, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Seat]:
    """Open the view of what there is to listen to, from the stage of the variants."""
    if puppet.sounds is None:
        puppet.sounds = news.SoundsRead(part=names.part, now=sounds(names))
    async with seated(
        puppet.folder, bring=lambda: cast("Runner", puppet), ready=False, size=size
    ) as seat:
        await seat.told(*evening(names, variant(names, 1), variant(names, 2)))
        await seat.walk_to("variants")
        await seat.press("enter")
        yield seat


async def roll(seat: Seat, puppet: Puppet) -> None:
    """Press space, and let the sounds roll."""
    await seat.press("space")
    await seat.told(*listened(NAMES))
    puppet.shown = rolling(5 * RATE)
    await seat.sees("space stop", "send silent")


def rolling(frame: int) -> Status:
    quiet = Puppet(Path()).shown
    return Status(frame, frame, frame, DI_FRAMES, 1, 0, 0, 0, quiet.inputs, quiet.outputs)
