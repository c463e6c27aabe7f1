"""``order.json``: everything decided before a pass rolls, so that whoever finds the pass can judge it.

Written into the pass folder before the first frame of the DI is played. A pass whose face died is
judged from this file, the engine's ``roll.json`` and the recorded files.
"""

from __future__ import annotations

import msgspec

from audio.vocab.results import ClickReading, ClickTrain
from audio.vocab.section import Covers
from audio.vocab.setup import StepUsed
from audio.vocab.variant import ChainAsSet, DiUsed
from audio.vocab.wiring import Wiring


class Order(msgspec.Struct, frozen=True, kw_only=True):
    """One pass as it was ordered."""

    format: int = 1
    number: int
    part: str
    revision: int
    song: str
    bpm: float | None = None
    """The song's tempo then, quarter notes a minute; of a tempo map that of the first bar played."""
    chain: ChainAsSet
    made_at: str
    """Local time with offset, ISO 8601."""
    wiring: Wiring
    di: DiUsed
    covers: Covers | None = None
    """The section that is played; None is the whole DI."""
    di_loudest_dbfs: float
    """Largest RMS of any 50 ms of what is played of the DI's channel, before the trim."""
    trim_db: float
    """Gain applied to the DI on its way out."""
    time_reference: int
    """Of the captures: the DI's, and so many frames more as a section begins after its first."""
    lead_in_frames: int
    """Roll frame at which the first frame that is played of the DI leaves."""
    shift_frames: int
    """Whole frames *D* between the DI leaving and a capture's frame 0."""
    delay_frames: float | None
    plus_minus_frames: float | None
    delay_source: str
    chain_adds_frames: float | None
    train: ClickTrain | None
    """The click that was heard; None when no click was."""
    opening_click: tuple[ClickReading, ...]
    """One for each return, in the wiring's order."""
    witness_click: ClickReading | None
    loop_click: ClickReading | None = None
    stray_inputs: tuple[int, ...] = ()
    """Inputs, from 1, that the wiring does not name and that heard the opening click."""
    setup: tuple[StepUsed, ...] = ()
    """Settings it is made under; empty in orders of before there were any."""
    witness_gain_db: float | None = None
    """What the witness heard over what was sent when the part's send level was set; None where that does
    not hold now, or no witness was wired."""
    paths: tuple[str, ...]
    """Captures relative to the session's folder, in the wiring's order of returns."""

    @property
    def from_frame(self) -> int:
        """The DI's frame that is played first: frame 0 of the captures."""
        return self.covers.from_frame if self.covers else 0

    @property
    def played_frames(self) -> int:
        """How many frames of the DI are played."""
        return self.covers.frames if self.covers else self.di.frames

    @property
    def from_s(self) -> float:
        """Seconds from the DI's first frame to the captures': places are told on the DI's timeline."""
        return self.from_frame / self.wiring.sample_rate
