"""The test click: where it starts, what it never exceeds, and a click file that is too loud."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import soundfile
from hand import Hand, turn_while
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.device.port import SampleFormat
from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.jobs.clicks import ceiling_for, find_click
from audio.jobs.talk import Silent
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.messages import Ended, Roll
from audio.vocab.requests import MakeClicks
from audio.vocab.results import ClickReading, ClickTrain
from audio.vocab.units import db_from_ratio, ratio_from_db
from audio.vocab.wiring import Click, Loop, Return, SimulatedDevice, Wiring
from audio.work.clicks import make_clicks

RATE = 44_100
BLOCK = 2048
CHANNELS = 4
CODE = 2.0**-23


class Deck:
    """What `find_click` asks of a deck, with the engine's stream in this process and nobody who hears."""

    def __init__(self, wiring: Wiring, sample_format: SampleFormat, *, too_loud_db: float) -> None:
        self.wiring = wiring
        self.listener = Silent()
        self.fault = None
        self.opened = SimpleNamespace(sample_rate=RATE, inputs=CHANNELS)
        self.worker = self
        self.loudest: list[float] = []
        self._too_loud_db = too_loud_db
        self.device = Hand(
            rate=RATE, block_frames=BLOCK, channels=CHANNELS, sample_format=sample_format
        )
        self._ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=Outlets.of(wiring),
            publish=lambda _: None,
            ended=self._ended.put,
            broken=pytest.fail,
        )
        self.stream.start()

    def play(self, *, what: str, **roll: Any) -> Ended:
        self.device.sent.clear()
        self.stream.roll(Roll(roll_id=1, **roll))
        recording = self.stream.recording
        while recording is not None and not recording.program.is_over(self.device.frame):
            assert self.device.gate is not None
            assert self.device.gate(BLOCK)
            self.device.turn(BLOCK)
        if what == "click":
            self.loudest.append(float(np.abs(self.device.levels()).max()))
        return self._ended.get(timeout=20)

    def make_clicks(self, path: Path, **asked: Any) -> ClickTrain:
        train = make_clicks(MakeClicks(path=str(path), **asked))
        if self._too_loud_db:
            samples, rate = soundfile.read(path)
            samples *= ratio_from_db(self._too_loud_db)
            soundfile.write(path, samples, rate, "FLOAT")
        return train

    def read_clicks(self, *_: object, **__: object) -> tuple[ClickReading, ...]:
        """Answer that it is heard a little better each time, and never well enough."""
        snr = 3.0 + 6.0 * len(self.loudest)
        heard = ClickReading(
            delay_frames=None, snr_db=snr, noise_dbfs=-90.0, peak_dbfs=-80.0, reason="nothing"
        )
        return (heard,) * CHANNELS


@contextmanager
def deck(
    wiring: Wiring, sample_format: SampleFormat, *, too_loud_db: float = 0.0
) -> Iterator[Deck]:
    one = Deck(wiring, sample_format, too_loud_db=too_loud_db)
    try:
        yield one
    finally:
        turn_while(one.device, one.stream.close, frames=BLOCK)


def wired(*, start_dbfs: float, ceiling_dbfs: float, loop: bool) -> Wiring:
    return Wiring(
        name="room",
        device=SimulatedDevice(),
        sample_rate=RATE,
        send_output=3,
        returns=(Return("close", 2),),
        reference="close",
        loop=Loop(output=4, input=4) if loop else None,
        click=Click(start_dbfs=start_dbfs, ceiling_dbfs=ceiling_dbfs),
    )


@given(
    start=st.floats(-60.0, 0.0),
    ceiling=st.floats(-40.0, 0.0),
    loop=st.booleans(),
    peak=st.none() | st.floats(-50.0, 0.0),
    trim=st.floats(-20.0, 6.0),
    sample_format=st.sampled_from(("float32", "int32")),
)
@settings(max_examples=6)
def test_a_click_starts_low_and_never_exceeds_the_wirings_ceiling_nor_the_dis_peak(
    *,
    start: float,
    ceiling: float,
    loop: bool,
    peak: float | None,
    trim: float,
    sample_format: SampleFormat,
) -> None:
    wiring = wired(start_dbfs=start, ceiling_dbfs=ceiling, loop=loop)
    with deck(wiring, sample_format) as one:
        sent_peak = None if peak is None else peak + trim
        top = ceiling_for(one, di_peak_dbfs=sent_peak)  # type: ignore[arg-type]
        find_click(one, ceiling_dbfs=top)  # type: ignore[arg-type]
    assert top <= ceiling
    assert peak is None or top <= peak + trim - 6.0
    first = ratio_from_db(min(start, top))
    assert one.loudest[0] == pytest.approx(first, abs=CODE)
    assert max(one.loudest) <= ratio_from_db(top) + CODE / 2
    raised = [db_from_ratio(loud) for loud in one.loudest]
    assert all(b - a < 6.1 for a, b in pairwise(raised) if a > -100.0)


@pytest.mark.parametrize("sample_format", ["float32", "int32"])
@pytest.mark.parametrize("too_loud_db", [1.0, 40.0])
def test_a_click_file_over_the_ceiling_never_sounds_and_says_so(
    sample_format: SampleFormat, too_loud_db: float
) -> None:
    wiring = wired(start_dbfs=-12.0, ceiling_dbfs=-12.0, loop=True)
    with deck(wiring, sample_format, too_loud_db=too_loud_db) as one:
        with pytest.raises((UseError, DeviceError), match=r"over its limit of -12\.0 dBFS"):
            find_click(one, ceiling_dbfs=-12.0)  # type: ignore[arg-type]
        assert not any(one.loudest)
