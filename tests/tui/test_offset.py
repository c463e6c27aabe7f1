"""``secondpass offset``: what it prints, how it exits, what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from installed import run
from needs import needs_samples
from playing import phrase

from audio.jobs.offsets import Offset, OffsetSlip
from tui.present.offsets import told

RATE = 44_100
LATE = 3217
pytestmark = needs_samples()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A DI, and it again as a recording: later, upside down, 12 dB down, in noise."""
    folder = tmp_path_factory.mktemp("offset")
    di = phrase(rate=RATE, seconds=6.0, seed=51)
    noise = np.random.default_rng(3).standard_normal(len(di) + LATE) * 1e-4
    soundfile.write(folder / "di.wav", di, RATE, "PCM_24")
    late = noise - 0.25 * np.concatenate((np.zeros(LATE), di))
    soundfile.write(folder / "late.wav", late, RATE, "PCM_24")
    soundfile.write(folder / "noise.wav", noise, RATE, "PCM_24")
    soundfile.write(folder / "faster.wav", late, 48_000, "PCM_24")
    return folder


def test_the_json_holds_delay_polarity_and_how_sure_they_are(folder: Path) -> None:
    ran = run("offset", "di.wav", "late.wav", "--json", folder=folder)
    said = json.loads(ran.out)
    assert ran.code == 0, ran.err
    assert said["delay_frames"] == pytest.approx(LATE, abs=0.3)
    assert said["polarity"] == "inverted"
    assert 0.5 < said["confidence"] <= 1.0
    assert said["plus_minus_frames"] < 2.0
    assert said["slips"] == []
    assert said["reason"] is None
    assert abs(said["drift_ppm"]) < 2.0


def test_the_words_hold_the_number_and_the_polarity(folder: Path) -> None:
    ran = run("offset", "di.wav", "late.wav", folder=folder)
    assert ran.code == 0, ran.err
    assert f"{LATE / RATE * 1000:.1f}"[:4] in ran.out
    assert "late against the DI" in ran.out
    assert "polarity inverted" in ran.out


def test_a_recording_of_something_else_is_refused_with_a_reason_and_exit_1(folder: Path) -> None:
    ran = run("offset", "di.wav", "noise.wav", "--json", folder=folder)
    said = json.loads(ran.out)
    assert ran.code == 1
    assert said["delay_frames"] is None
    assert "check" in said["reason"]


def test_two_rates_are_refused_with_both_numbers(folder: Path) -> None:
    ran = run("offset", "di.wav", "faster.wav", "--json", folder=folder)
    assert ran.code == 2
    assert ran.out == ""
    assert "44100" in ran.err
    assert "48000" in ran.err


def test_a_channel_that_is_not_there_is_told_by_name(folder: Path) -> None:
    ran = run("offset", "di.wav", "late.wav", "--channel", "3", folder=folder)
    assert ran.code == 2
    assert "late.wav has 1 channel" in ran.err


def offset(**more: object) -> Offset:
    facts = {
        "di": "di.wav",
        "recording": "amp.wav",
        "sample_rate": 48_000,
        "delay_frames": -96.25,
        "delay_ms": -2.0,
        "plus_minus_frames": 0.5,
        "polarity": "normal",
        "confidence": 0.99,
        "drift_ppm": 0.02,
        "drift_plus_minus_ppm": 0.05,
        "slips": (),
        "reason": None,
    }
    return Offset(**(facts | more))


def test_a_recording_that_comes_first_is_called_early() -> None:
    assert told(offset())[0].startswith("the recording is 96.25 ± 0.50 frames (2.01 ms) early")


def test_drift_is_told_only_where_it_is_more_than_its_uncertainty() -> None:
    assert not any("clock" in line for line in told(offset()))
    assert "later by 12.30 ± 0.05" in " ".join(told(offset(drift_ppm=12.3)))


def test_each_slip_is_told_with_its_place() -> None:
    slips = (
        OffsetSlip(at_s=61.0, within_s=0.5, frames=-256),
        OffsetSlip(at_s=120.0, within_s=1.0, frames=64),
    )
    lines = told(offset(slips=slips))
    assert "1:01 256 frames lost (5.33 ms), within 0.5 s of there" in lines
    assert "2:00 64 frames inserted (1.33 ms), within 1.0 s of there" in lines
