"""A copy followed from block to block: searched for, held, lost, found again, moved."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.cable import Cable, Grid
from audio.measure.drift import Follower, Reading, reading
from audio.measure.looked import Looked, Pair
from audio.measure.search import Found, Search
from audio.measure.slips import Slips, told
from audio.measure.suspicion import SURE, Moved, Suspicion, place
from audio.measure.taught import first_taught, taught_again
from audio.measure.watch import Watch
from audio.vocab.alignment import Alignment

if TYPE_CHECKING:
    from numpy.typing import NDArray

REMEMBERED_BLOCKS = 96
"""Blocks that can be gone over again: 16 s."""

_TEACHING = 12
"""Blocks a path is learned from when it was just found."""

_NOISE_EVERY, _PATH_EVERY = 2, 4
"""Noise and path change seldom: every so many blocks are enough."""

_WELL_KNOWN = 0.3
"""Frames by which a delay may be off to be found at the first look."""
_CLOSER = 4

_STRANGE = 4.0
"""Power left over what is expected from which on a block says nothing of path and delay."""

_EVIDENT = 3.0
"""Evidence for a copy, natural logarithm, from which on a block teaches anything."""

_LEAST_SHARE = 0.25
"""Share of the blocks that sound in which the copy must be found: two pieces of music may share a note."""

_QUIET = 1e-4
"""Power over the loudest block's under which what is played does not count as sounding: −40 dB."""


@dataclass(frozen=True)
class _Known:
    """What was known before a block was gone over."""

    number: int
    follower: Follower
    readings: int
    sounded_until: int
    """Frame of the recording at which the last block that said anything ended."""


@dataclass(frozen=True)
class _Held:
    """The copy as it is known."""

    cable: Cable
    follower: Follower


class Track:
    """How far a recording was followed, and what came of it.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._rate = rate
        self._grid = grid = Grid.of(rate=rate)
        self._pair = Pair(grid, kept=REMEMBERED_BLOCKS * grid.block + 2 * grid.size)
        self._number = 0
        self._center = 0
        self._search = Search(grid, rate=rate)
        self._searched_from = 0
        self._held: _Held | None = None
        self._lost: tuple[_Known, Cable] | None = None
        self._suspicion = Suspicion(grid.furthest)
        self._watch = Watch(self._pair, grid, rate=rate, kept=REMEMBERED_BLOCKS)
        self._known: deque[_Known] = deque(maxlen=REMEMBERED_BLOCKS)
        self._sounded_until = 0
        self._readings: list[Reading] = []
        self._slips = Slips()
        self._before_slip: int | None = None
        self._loudest, self._sounding, self._weighed = 0.0, 0, 0
        self._came = False

    def add(self, played: NDArray[np.floating], recording: NDArray[np.floating]) -> None:
        """Take the next (frames,) of both."""
        self._pair.played.add(played)
        self._pair.heard.add(recording)
        self._came = self._came or bool(np.any(recording))

    def go_on(self, *, last: bool) -> None:
        """Go over the blocks that are there; the `last` ones without all their surroundings."""
        while True:
            while self._ready(last=last):
                self._one_block()
            if not last or not self._last_word():
                break
        if last and self._held is not None:
            self._look_closer(self._held, last=True)

    def _last_word(self) -> bool:
        """Decide what was still waited for; return whether blocks must be gone over again."""
        if self._held is None:
            return self._lock_on(last=True)
        return self._decide(self._held, last=True)

    def told(self) -> Alignment:
        """Return what came of it so far."""
        cable = self._held.cable if self._held else self._lost[1] if self._lost else None
        if cable is None or len(self._readings) <= _LEAST_SHARE * self._sounding:
            return Alignment(delay_frames=None, reason=self._reason())
        return told(self._readings, self._slips, gain=cable.gain, unsure=cable.unsure_frames)

    # ------------------------------------------------------------------ block by block

    @property
    def _margin(self) -> int:
        return self._grid.reach - self._grid.furthest

    def _start(self, number: int) -> int:
        return number * self._grid.block + self._margin

    def _starts(self, first: int) -> list[int]:
        """Return where the blocks from `first` to the last one gone over begin."""
        return [self._start(n) for n in range(first, self._number)]

    def _ready(self, *, last: bool) -> bool:
        """Return whether a block is there with its surroundings; at the last chance without them."""
        ends = self._start(self._number) + self._grid.block
        if last:
            return self._pair.heard.end >= ends + self._margin
        reach = ends + self._grid.reach
        return self._pair.heard.end >= reach and self._pair.played.end >= reach - self._center

    def _one_block(self) -> None:
        self._weigh()
        if self._held is None:
            self._seek()
        else:
            self._follow(self._held)
            if not self._decide(self._held, last=False):
                self._look_closer(self._held, last=False)

    def _weigh(self) -> None:
        """Count the blocks in which what is played sounds, each once."""
        if self._number < self._weighed:
            return
        self._weighed = self._number + 1
        block = self._pair.played.take(self._start(self._number) - self._center, self._grid.block)
        power = float(block @ block)
        self._loudest = max(self._loudest, power)
        self._sounding += power > _QUIET * self._loudest

    def _seek(self) -> None:
        start = self._start(self._number)
        recorded, around = self._pair.recorded(start), self._pair.around(start, self._center)
        self._number += 1
        if np.any(recorded) and np.any(around):
            self._search.add(recorded, around)
            self._lock_on(last=False)

    def _lock_on(self, *, last: bool) -> bool:
        """Begin to follow where the copy is found; return whether it is."""
        found = self._search.found(last=last)
        if found is not None:
            self._lock(found)
        return found is not None

    def _follow(self, held: _Held) -> None:
        number, start = self._number, self._start(self._number)
        self._known.append(
            _Known(number, held.follower.copy(), len(self._readings), self._sounded_until)
        )
        foreseen, spread = held.follower.go_to(start + self._grid.block / 2)
        delay, looked = self._looked(held.cable, start, foreseen, spread)
        self._center = round(delay)
        if looked.left is None:
            self._suspicion.clear(number)
        elif not looked.spilt:
            self._suspicion.add(
                looked.left, here=looked.here, none=looked.none, scale=looked.scale, number=number
            )
        self._number += 1
        evident = looked.evidence > _EVIDENT and not looked.spilt
        self._watch.see(looked, number, evident=evident)
        if evident:
            self._sounded_until = start + self._grid.block
            if not self._suspicion.aroused:
                self._learn(held, looked, delay=delay, foreseen=foreseen)

    def _looked(
        self, cable: Cable, start: int, foreseen: float, spread: float
    ) -> tuple[float, Looked]:
        """Look at a block, nearer and nearer where the delay is not known well yet; return where, too."""
        delay = round(foreseen, 3)  # so that it seldom changes
        looked = self._pair.look(cable, start, delay=delay, spread=spread)
        for _ in range(_CLOSER):
            known = spread < _WELL_KNOWN or abs(looked.off) < _WELL_KNOWN
            if known or looked.evidence < _EVIDENT or looked.spilt:
                break
            delay = round(delay + looked.off, 3)
            looked = self._pair.look(cable, start, delay=delay, spread=spread)
        return delay, looked

    def _learn(self, held: _Held, looked: Looked, *, delay: float, foreseen: float) -> None:
        usual = looked.scale < _STRANGE
        # The path first: what a block sounds like, whitened, depends on what is known of the noise.
        if usual and self._number % _PATH_EVERY == 0:
            held.cable.learn_path(looked.heard, looked.spectrum, looked.late)
        if self._number % _NOISE_EVERY == 0:
            held.cable.learn_noise([looked.heard - looked.expected], [looked.expected])
        if usual and looked.information > 0.0:
            held.follower.correct(delay + looked.off - foreseen, looked.information)
            self._read(delay + looked.off, looked.information)

    def _read(self, delay: float, information: float) -> None:
        middle = self._start(self._number - 1) + self._grid.block / 2
        one = reading(middle - delay, delay - self._slips.frames, information)
        self._readings.append(one)

    # ------------------------------------------------------------------ finding, losing, moving

    def _lock(self, found: Found) -> None:
        """Learn the path from the latest blocks, then begin to follow from the first one remembered."""
        first = max(self._searched_from, self._number - REMEMBERED_BLOCKS + 1)
        cable = Cable(self._grid, noise=found.noise, gain=found.gain)
        starts = self._starts(max(first, self._number - _TEACHING))
        learned = first_taught(self._pair, cable, starts, delay=float(self._center + found.shift))
        cable, delay = learned.cable, learned.delay
        if self._lost is not None:
            first = self._found_again(*self._lost, cable, delay, first)
        self._center = round(delay)
        self._held = _Held(cable, Follower(at=self._start(first), delay=delay, rate=self._rate))
        self._begin(first)

    def _found_again(
        self, known: _Known, old: Cable, cable: Cable, delay: float, first: int
    ) -> int:
        """Note what was lost while nothing could be recognised; return the block to go on with."""
        expected, _ = known.follower.copy().go_to(self._start(self._number))
        by, starts = round(delay - expected), self._starts(first)
        before = self._pair.explained(old, starts, delay=expected)
        after = self._pair.explained(cable, starts, delay=delay)
        lo, hi = place(before, after, by=by)
        goes_on = min(first + 1 + hi // self._grid.block, self._number)
        if by:
            self._note(by, starts[0] + lo, starts[0] + hi, expected)
            self._watch.start_over(goes_on)
        else:
            self._watch.found_again(goes_on)
        return goes_on

    def _begin(self, number: int) -> None:
        """Go on with a block, as if none behind it had been looked at."""
        self._number = number
        self._suspicion.clear(number)
        while self._known and self._known[-1].number >= number:
            self._known.pop()

    def _look_closer(self, held: _Held, *, last: bool) -> None:
        """Tell what went wrong for a moment only, once enough has come."""
        delay, _ = held.follower.copy().go_to(self._start(self._number))
        for stretch in self._watch.look(
            self._number - 1, delay=delay, gain=held.cable.gain, start=self._start, last=last
        ):
            self._slips.note_stretch(stretch, delay=round(delay))

    def _decide(self, held: _Held, *, last: bool) -> bool:
        """Act on what has become sure; return whether blocks must be gone over again."""
        moved = self._suspicion.moved(last=last)
        if moved is not None:
            self._go_back(held, moved)
            return True
        if self._suspicion.gone():
            self._lose(held)
            return True
        return False

    def _from(self, number: int) -> _Known:
        """Return what was known before a block, or before the earliest remembered one after it."""
        return next(k for k in self._known if k.number >= number)

    def _go_back(self, held: _Held, moved: Moved) -> None:
        """Find where the recording moved, and go on from there at the new place."""
        known = self._from(moved.since)
        begins, starts = self._start(known.number), self._starts(known.number)
        follower = known.follower.copy()
        delay, _ = follower.go_to(begins)
        before = self._pair.explained(held.cable, starts, delay=delay)
        after = self._pair.explained(held.cable, starts, delay=delay + moved.by)
        lo, hi = place(before, after, by=moved.by)
        del self._readings[known.readings :]
        if known.readings <= (self._before_slip or 0) and np.sum((before - after)[:lo]) < SURE:
            # What never lay at the old place has not moved: it was looked for at a wrong one.
            if self._before_slip is None:
                cable = taught_again(
                    self._pair, held.cable, starts[-_TEACHING:], delay=delay + moved.by
                )
                held = _Held(cable, held.follower)
            else:
                self._slips.amend(moved.by)
        else:
            since = begins + lo if lo else min(begins, known.sounded_until)
            self._note(moved.by, since, begins + hi, delay)
        follower.shift(moved.by)
        self._held = _Held(held.cable, follower)
        self._sounded_until = known.sounded_until
        goes_on = known.number + 1 + (hi + max(moved.by, 0)) // self._grid.block
        self._watch.start_over(goes_on)
        self._begin(goes_on)

    def _note(self, by: int, since: int, until: int, delay: float) -> None:
        """Note a slip between two frames of the recording; filters blur both a little."""
        self._before_slip = len(self._readings)
        blur = 3 * self._margin // 4
        self._slips.note(by, first=round(since - delay) - blur, last=round(until - delay) + blur)

    def _lose(self, held: _Held) -> None:
        """Look for the copy anew: the recording is none any more."""
        known = self._from(self._suspicion.gone_since)
        self._lost, self._held = (known, held.cable), None
        del self._readings[known.readings :]
        self._search = Search(self._grid, rate=self._rate)
        self._searched_from = known.number
        self._sounded_until = known.sounded_until
        self._begin(known.number)

    def _reason(self) -> str:
        if not self._loudest:
            return "nothing was sent, so there is nothing to compare with; send a DI that sounds"
        if not self._came:
            return (
                "the recording holds digital silence; check its cable and its input in the wiring"
            )
        return (
            "what was sent cannot be recognised in the recording; check its cable, and that the wiring"
            " names the right input"
        )
