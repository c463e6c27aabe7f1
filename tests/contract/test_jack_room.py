"""The JACK room tells the truth about itself: it is the yardstick of every test over a real server."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from conformance import jack_wiring, lag, run_clean
from device_probe import Ask
from jackroom.paths import Paths, cabinet
from jackroom.rig import JackRoom
from jackroom.spec import Path, RoomSpec
from msgspec.structs import replace
from needs import needs_jack
from numpy.typing import NDArray

from audio.vocab.wiring import Return

pytestmark = pytest.mark.slow

Rooms = Callable[..., JackRoom]


def delay_by_phase(sent: NDArray[np.float64], heard: NDArray[np.float64]) -> float:
    """Return the delay in frames from the slope of the cross-spectrum's phase (textbook method)."""
    whole, height = lag(sent, heard)
    taper = np.hanning(len(sent))
    early = np.sign(height) * np.roll(heard, -whole)
    cross = np.fft.rfft(early * taper) * np.conj(np.fft.rfft(sent * taper))
    omega = 2 * np.pi * np.arange(len(cross)) / len(sent)
    use = slice(len(cross) // 20, len(cross) * 7 // 10)
    weight = np.abs(cross[use])
    phase = np.angle(cross[use])
    slope = np.sum(weight * omega[use] * phase) / np.sum(weight * omega[use] ** 2)
    return whole - float(slope)


@needs_jack()
@pytest.mark.parametrize(
    ("rate", "period", "delay_frames"),
    [(44100, 512, 131.37), (48000, 1024, 40.5), (96000, 512, 301.81)],
)
def test_the_round_trip_over_the_server_is_one_period_and_the_paths_delay(
    jack_room: Rooms, rate: int, period: int, delay_frames: float
) -> None:
    paths = (
        Path(output=3, input=2, delay_frames=delay_frames, gain=0.5, inverted=True),
        Path(output=3, input=4, delay_frames=delay_frames + 200.25, noise_rms=1e-4),
    )
    room = jack_room(rate=rate, period=period, paths=paths)
    returns = (Return("close", 2), Return("far", 4))
    wiring = replace(jack_wiring(rate), returns=returns, loop=None)
    ask = Ask(wiring=wiring, blocks=2 * rate // period)
    run = run_clean(ask, env=room.env, frames=8192)
    for path in paths:
        sent, heard = run.sent[:, 2], run.heard[:, path.input - 1]
        assert delay_by_phase(sent, heard) == pytest.approx(room.round_trip(path.input), abs=0.01)
        assert np.sign(lag(sent, heard)[1]) == (-1 if path.inverted else 1)


def through(
    path: Path, block: NDArray[np.float32], *, rate: int, period: int
) -> NDArray[np.float32]:
    """Run the room's arithmetic alone, period by period."""
    paths = Paths(RoomSpec(paths=(path,), inputs=1, outputs=1), rate=rate)
    heard = np.zeros_like(block)
    for start in range(0, len(block), period):
        paths.run([block[start : start + period]], [heard[start : start + period]])
    return heard


@pytest.mark.parametrize("whole", [0, 1, 511, 512, 5000])
def test_a_plain_wire_is_late_by_whole_frames_and_exact(whole: int) -> None:
    block = np.random.default_rng(1).standard_normal(8192).astype(np.float32)
    path = Path(output=1, input=1, delay_frames=whole)
    assert path.is_wire
    heard = through(path, block, rate=48000, period=512)
    assert np.array_equal(heard[whole:], block[: len(block) - whole])
    assert not heard[:whole].any()


@pytest.mark.parametrize("frequency", [0.01, 0.2, 0.4])
def test_a_fractional_delay_moves_a_sine_by_that_much_and_no_more(frequency: float) -> None:
    # A delayed sine has a closed form: no second implementation is needed.
    at = np.arange(8192)
    path = Path(output=1, input=1, delay_frames=131.37)
    block = np.sin(2 * np.pi * frequency * at).astype(np.float32)
    heard = through(path, block, rate=48000, period=512)
    expected = np.sin(2 * np.pi * frequency * (at - 131.37))
    assert np.max(np.abs(heard[400:] - expected[400:])) < 3e-5


def test_the_size_of_the_period_changes_nothing() -> None:
    block = np.random.default_rng(1).standard_normal(8192).astype(np.float32)
    path = Path(output=1, input=1, delay_frames=77.7, cabinet=True, drive=5.0, gain=0.3)
    runs = [through(path, block, rate=96000, period=p) for p in (128, 1024)]
    assert np.max(np.abs(runs[0] - runs[1])) < 1e-6


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_cabinets_sound_begins_at_its_first_tap(rate: int) -> None:
    response = cabinet(rate)
    assert response[0] != 0.0
    onset = int(np.flatnonzero(np.abs(response) > 0.01 * np.max(np.abs(response)))[0])
    assert onset <= 1


def test_a_fractional_delay_too_short_for_its_sinc_is_refused() -> None:
    with pytest.raises(ValueError, match=r"needs 32 frames or more, this is 3\.5"):
        Paths(RoomSpec(paths=(Path(output=1, input=1, delay_frames=3.5),)), rate=48000)
