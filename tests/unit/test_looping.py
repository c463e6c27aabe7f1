"""What the worker reads of a stretch that goes round, from files that still grow."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from audio.files.capture import CaptureFile
from audio.vocab.errors import UseError
from audio.vocab.requests import FindLoudest, ReadCopy, ReadCycle, Round
from audio.work.looping import find_loudest, read_copy, read_cycle

RATE = 48_000
LEAD, CYCLE = RATE // 2, RATE
ROUND = Round(
    cycle_frames=CYCLE,
    steady_frame=LEAD + RATE // 4,
    guard_frames=RATE // 10,
    quiet_from=RATE // 10,
    quiet_frames=LEAD - RATE // 10,
)


def grown(path: Path, samples: np.ndarray) -> Path:
    """Write a capture that is not closed: its header says nothing of its length."""
    file = CaptureFile(
        path,
        channels=1,
        rate=RATE,
        depth=32,
        time_reference=0,
        description="",
        made_at=datetime(2026, 11, 26).astimezone(),
    )
    file.write(np.ascontiguousarray(samples[:, None], dtype=np.float32))
    file.sync_data()
    return path


def going_round(cycles: float, *, gain: float = 1.0) -> np.ndarray:
    """Return silence, then noise that repeats, so many times."""
    once = 0.1 * np.random.default_rng(5).standard_normal(CYCLE)
    sound = np.tile(once, int(np.ceil(cycles)))[: round(cycles * CYCLE)]
    return np.concatenate((np.zeros(LEAD), gain * sound))


@pytest.mark.parametrize(("cycles", "told"), [(1.3, False), (1.36, True), (3.0, True)])
def test_a_cycle_is_read_once_it_is_whole_and_steady(
    tmp_path: Path, cycles: float, told: bool
) -> None:
    # A quarter of a second to settle, a cycle, a tenth of guard: 1.35 cycles.
    sent = grown(tmp_path / "sent.wav", going_round(cycles))
    back = grown(tmp_path / "back.wav", np.roll(going_round(cycles, gain=0.5), 100))
    found = read_copy(ReadCopy(sent_path=str(sent), path=str(back), sample_rate=RATE, round=ROUND))
    assert (found is not None) == told
    if found is not None:
        assert found.gain_db == pytest.approx(-6.02, abs=0.01)
        assert found.delay_frames == 100
    levels = read_cycle(ReadCycle(path=str(back), sample_rate=RATE, round=ROUND))
    assert (levels is not None) == told
    if levels is not None:
        assert levels.rms_dbfs == pytest.approx(-26.02, abs=0.1)
        assert levels.noise_dbfs < -100.0
        assert levels.clipped_samples == 0


def test_a_capture_that_is_not_there_yet_tells_nothing(tmp_path: Path) -> None:
    sent = grown(tmp_path / "sent.wav", going_round(3.0))
    missing = str(tmp_path / "back.wav")
    asked = ReadCopy(sent_path=str(sent), path=missing, sample_rate=RATE, round=ROUND)
    assert read_copy(asked) is None


@given(at=st.integers(0, 60), seconds=st.sampled_from([0.5, 1.0, 2.0]))
def test_the_loudest_stretch_is_found_to_a_window(
    tmp_path_factory: pytest.TempPathFactory, at: int, seconds: float
) -> None:
    path = tmp_path_factory.mktemp("di") / "di.wav"
    window = RATE // 20
    sound = 0.01 * np.random.default_rng(at).standard_normal(100 * window)
    sound[at * window : at * window + round(seconds * RATE)] *= 30.0
    soundfile.write(path, sound, RATE, "FLOAT")
    found = find_loudest(FindLoudest(path=str(path), channel=0, seconds=seconds))
    assert (found.at_frame, found.frames) == (at * window, round(seconds * RATE))
    assert found.rms_dbfs == pytest.approx(-10.46, abs=0.2)


def test_a_short_file_is_its_own_loudest_and_a_channel_must_be_there(tmp_path: Path) -> None:
    path = tmp_path / "di.wav"
    soundfile.write(path, np.full(1000, 0.1), RATE, "FLOAT")
    found = find_loudest(FindLoudest(path=str(path), channel=0, seconds=4.0))
    assert (found.at_frame, found.frames) == (0, 1000)
    with pytest.raises(UseError, match="channel 2 was asked for"):
        find_loudest(FindLoudest(path=str(path), channel=1, seconds=4.0))
