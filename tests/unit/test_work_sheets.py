"""What the worker tells of a sound for the sheet, against figures reckoned by others."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyloudnorm
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

from audio.vocab.errors import UseError
from audio.vocab.layers import Layer
from audio.vocab.requests import TellSound
from audio.vocab.sheet import BarMark, SoundTold
from audio.work.sheets import COLUMNS, LONGEST_S, tell_sound

RATE = 48_000
SECONDS = 4.0
FROM, FRAMES = RATE, 2 * RATE
"""The phrase: second 1 to 3; around it everything is louder, so that nobody measures that by mistake."""

Floats = NDArray[np.float64]


def noise(seed: int, frames: int = round(SECONDS * RATE)) -> Floats:
    shaped = sosfilt(
        butter(2, (100, 4000), "bandpass", fs=RATE, output="sos"),
        np.random.default_rng(seed).standard_normal(frames),
    )
    return np.asarray(0.1 * shaped / np.sqrt(np.mean(shaped**2)))


def with_loud_ends(phrase: Floats) -> Floats:
    whole = 0.5 * np.sign(noise(9, round(SECONDS * RATE)))
    whole[FROM : FROM + FRAMES] = phrase
    return whole


def write(path: Path, *channels: Floats, rate: int = RATE) -> str:
    soundfile.write(path, np.stack(channels, axis=1), rate, subtype="DOUBLE")
    return str(path)


def playing() -> Floats:
    """Return a DI's phrase that rests in its last second."""
    di = noise(1)[:FRAMES].copy()
    di[-RATE:] = 0.0
    return di


def parsed(picture: str) -> ET.Element:
    return ET.fromstring(picture)  # noqa: S314 - drawn just now


@pytest.fixture
def di(tmp_path: Path) -> Layer:
    return Layer(name="DI", path=write(tmp_path / "di.wav", with_loud_ends(playing())))


def told(di: Layer, *files: Layer, originals: tuple[Layer, ...] = ()) -> SoundTold:
    bars = tuple(BarMark(at_s=2.0 * bar, bar=bar + 1) for bar in range(2))
    return tell_sound(
        TellSound(
            di=di, files=files, originals=originals, from_frame=FROM, frames=FRAMES, bars=bars
        )
    )


def test_levels_of_the_phrase_are_those_that_numpy_and_pyloudnorm_reckon(
    tmp_path: Path, di: Layer
) -> None:
    phrase = noise(2)[:FRAMES]
    file = Layer(name="close", path=write(tmp_path / "a.wav", with_loud_ends(phrase)))
    one = told(di, file).files[0]
    assert one.levels.frames == FRAMES
    assert one.levels.rms_dbfs == pytest.approx(10 * np.log10(np.mean(phrase**2)), abs=1e-6)
    assert one.levels.peak_dbfs == pytest.approx(20 * np.log10(np.max(np.abs(phrase))), abs=1e-6)
    assert one.crest_db == pytest.approx(one.levels.peak_dbfs - one.levels.rms_dbfs)
    # pyloudnorm gates whole blocks only, as BS.1770 says; its mono is one loudspeaker.
    reference = pyloudnorm.Meter(RATE).integrated_loudness(phrase)
    assert one.levels.loudness_lufs == pytest.approx(reference, abs=0.05)
    # scipy's own filter, eight times finer; both are flat far beyond 4 kHz.
    finer = np.max(np.abs(resample_poly(phrase, 8, 1)))
    assert one.levels.true_peak_dbtp == pytest.approx(20 * np.log10(finer), abs=0.1)


def test_a_third_octave_holds_what_a_plain_transform_has_between_its_edges(
    tmp_path: Path, di: Layer
) -> None:
    phrase = noise(3)[:FRAMES]
    file = Layer(name="close", path=write(tmp_path / "a.wav", with_loud_ends(phrase)))
    thirds = {one.hz: one.dbfs for one in told(di, file).files[0].levels.thirds}
    power = 2 * np.abs(np.fft.rfft(phrase) / phrase.size) ** 2
    hz = np.fft.rfftfreq(phrase.size, 1 / RATE)
    for middle in (500.0, 1000.0, 2500.0):
        exact = 1000.0 * 10 ** (round(10 * np.log10(middle / 1000.0)) / 10)  # IEC 61260-1, base ten
        inside = (hz >= exact * 10**-0.05) & (hz < exact * 10**0.05)
        # two ways to window one noise: 2 s hold some hundred independent values in a band
        assert thirds[middle] == pytest.approx(10 * np.log10(power[inside].sum()), abs=0.5)


def test_noise_is_that_of_the_rest_and_hum_is_named(tmp_path: Path, di: Layer) -> None:
    quiet = 1e-4 * np.random.default_rng(4).standard_normal(FRAMES)
    hum = 1e-3 * np.sqrt(2) * np.sin(2 * np.pi * 50 * np.arange(FRAMES) / RATE)
    plain, humming = playing() + quiet, playing() + quiet + hum
    files = (
        Layer(name="close", path=write(tmp_path / "a.wav", with_loud_ends(plain))),
        Layer(name="room", path=write(tmp_path / "b.wav", with_loud_ends(humming))),
    )
    close, room = told(di, *files).files
    assert close.noise_dbfs == pytest.approx(-80.0, abs=0.3)
    assert close.hum_hz is None
    assert room.hum_hz == 50
    assert room.hum_dbfs == pytest.approx(-60.0, abs=0.2)


def test_a_di_that_never_rests_leaves_the_noise_unknown(tmp_path: Path) -> None:
    path = write(tmp_path / "di.wav", with_loud_ends(noise(1)[:FRAMES]))
    assert told(Layer(path=path), Layer(path=path)).files[0].noise_dbfs is None


def test_each_file_is_measured_where_it_lies(tmp_path: Path, di: Layer) -> None:
    phrase = noise(5)[:FRAMES]
    late = np.concatenate([np.full(700, 0.9), with_loud_ends(phrase)])
    other = with_loud_ends(0.5 * phrase)[300:]
    files = (
        Layer(path=write(tmp_path / "a.wav", np.zeros(late.size), late), channel=1, at_frame=-700),
        Layer(path=write(tmp_path / "b.wav", other), at_frame=300),
    )
    found = told(di, files[0], originals=files[1:])
    rms = 10 * np.log10(np.mean(phrase**2))
    assert found.files[0].levels.rms_dbfs == pytest.approx(rms, abs=1e-6)
    assert found.originals[0].levels.rms_dbfs == pytest.approx(rms - 20 * np.log10(2), abs=1e-6)
    assert found.originals[0].wave == ""


def test_digital_silence_is_told_and_drawn(tmp_path: Path, di: Layer) -> None:
    path = write(tmp_path / "a.wav", np.zeros(FRAMES))
    one = told(di, Layer(name="close", path=path), originals=(Layer(name="x", path=path),))
    assert one.files[0].levels.rms_dbfs == -200.0
    assert one.files[0].levels.loudness_lufs is None
    for picture in (one.files[0].wave, one.thirds):
        parsed(picture)


def test_pictures_are_small_the_same_each_time_and_hold_text_as_text(
    tmp_path: Path, di: Layer
) -> None:
    path = write(tmp_path / "a.wav", with_loud_ends(noise(6)[:FRAMES]))
    layer = Layer(name="$close$ <b>", path=path)
    first, again = (told(di, layer, originals=(layer,)) for _ in range(2))
    assert first == again
    for picture in (*(one.wave for one in first.files), first.thirds):
        assert len(picture.encode()) <= 40_000
        tree = parsed(picture)
        assert {one.rpartition("}")[2] for one in {part.tag for part in tree.iter()}} >= {"text"}
        assert "close" not in picture
        addresses = [
            value
            for part in tree.iter()
            for key, value in part.attrib.items()
            if key.endswith("href") and not value.startswith("#")
        ]
        assert addresses == []
    written = {"".join(one.itertext()).strip() for one in parsed(first.thirds).iter()}
    assert {"1", "a", "Hz", "1k", "dB over its own loudness"} <= written
    bars = {"".join(one.itertext()).strip() for one in parsed(first.files[0].wave).iter()}
    assert {"bar", "1", "2", "s"} <= bars


def test_a_recording_of_many_columns_is_drawn_from_its_own_extremes(
    tmp_path: Path, di: Layer
) -> None:
    """The one sample that is high stands in the picture: its level is the picture's only figure."""
    whole = np.zeros(COLUMNS * 400)
    whole[123_457] = -0.25
    wave = told(di, Layer(path=write(tmp_path / "a.wav", whole))).files[0].wave
    assert "−12.0 dBFS" in wave


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"frames": 0}, "one frame to a minute"),
        ({"frames": LONGEST_S * RATE + 1}, "one frame to a minute"),
        ({"files": (Layer(path="/nowhere.wav"),)}, "cannot be opened"),
        ({"files": (Layer(path="DI", channel=7),)}, "channel 8"),
    ],
)
def test_what_cannot_be_told_is_said(di: Layer, changes: dict[str, object], match: str) -> None:
    asked: dict[str, object] = {"di": di, "files": (di,), "from_frame": FROM, "frames": FRAMES}
    asked |= changes
    asked["files"] = tuple(
        Layer(path=di.path, channel=one.channel) if one.path == "DI" else one
        for one in asked["files"]  # type: ignore[attr-defined]
    )
    with pytest.raises(UseError, match=match):
        tell_sound(TellSound(**asked))  # type: ignore[arg-type]


def test_another_rate_and_samples_that_are_no_numbers_are_refused(
    tmp_path: Path, di: Layer
) -> None:
    slow = write(tmp_path / "slow.wav", np.zeros(1000), rate=44_100)
    with pytest.raises(UseError, match="44100 Hz and its DI 48000 Hz"):
        told(di, Layer(path=slow))
    broken = write(tmp_path / "nan.wav", np.full(1000, np.nan))
    with pytest.raises(UseError, match="no number"):
        told(di, Layer(path=broken))
