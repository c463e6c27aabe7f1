"""First arrival by the music: through loudspeakers whose pure delay is known, behind a driven amp.

The truth is the room's own: its responses begin at tap 0. Their construction is another than that the
constants were found on; ``tests/benchmarks/bench_offset.py`` judges on many.
"""

from __future__ import annotations

import numpy as np
import pytest
from needs import needs_samples
from playing import phrase
from scipy import signal

from audio.device.simulated.cabinet import cabinet_response
from audio.measure.music import align
from audio.vocab.alignment import Alignment

pytestmark = needs_samples()


def through(name: str, *, rate: int, drive: float, bias: float = 0.0) -> Alignment:
    """Place a phrase behind a curve and a loudspeaker, 480 frames late, noise 45 dB under it."""
    di = phrase(rate=rate, seconds=10.0, seed=77)
    bent = np.tanh(di * (drive / np.max(np.abs(di))) + bias) - np.tanh(bias)
    response = cabinet_response(name, rate=rate, where="microphone")
    sound = np.concatenate((np.zeros(480), signal.fftconvolve(bent, response)))
    hiss = np.random.default_rng(5).standard_normal(sound.size)
    return align(di, sound + hiss * (10.0 ** (-45.0 / 20.0) * np.std(sound)), rate=rate)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["closed back", "small", "floor bounce", "deep box"])
@pytest.mark.parametrize("drive", [1.0, 30.0])
def test_a_loudspeaker_of_least_phase_is_taken_back(name: str, drive: float) -> None:
    found = through(name, rate=48_000, drive=drive)
    assert found.delay_frames == pytest.approx(480.0, abs=1.0)
    assert found.polarity == "normal"


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_any_rate_will_do(rate: int) -> None:
    found = through("closed back", rate=rate, drive=10.0)
    assert found.delay_frames == pytest.approx(480.0, abs=rate / 48_000)


def test_what_turns_phase_is_found_or_its_doubt_is_told() -> None:
    found = through("off axis", rate=48_000, drive=10.0)
    assert found.delay_frames is not None
    assert found.plus_minus_frames is not None
    assert abs(found.delay_frames - 480.0) <= found.plus_minus_frames
    assert found.polarity in {"normal", "unsure"}


def test_an_amp_that_bends_one_side_more_moves_nothing() -> None:
    even, odd = (through("closed back", rate=48_000, drive=20.0, bias=b) for b in (0.0, 0.5))
    assert even.delay_frames is not None
    assert odd.delay_frames == pytest.approx(even.delay_frames, abs=0.5)


def test_more_noise_is_a_wider_plus_minus() -> None:
    di = phrase(rate=48_000, seconds=10.0, seed=77)
    sound = signal.fftconvolve(di, cabinet_response("closed back", rate=48_000, where="microphone"))
    hiss = np.random.default_rng(5).standard_normal(sound.size) * np.std(sound)
    wide = [
        align(di, sound + hiss * 10.0 ** (-db / 20.0), rate=48_000).plus_minus_frames
        for db in (60.0, 20.0)
    ]
    assert wide[0] is not None
    assert wide[1] is not None
    assert wide[1] > 1.2 * wide[0]
