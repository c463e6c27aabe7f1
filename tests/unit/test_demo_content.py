"""The demo's DIs, wiring and recipe are what they claim to be."""

from __future__ import annotations

import subprocess
import sys
from importlib.resources import as_file

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from audio.device.simulated.room import Room
from audio.vocab.wiring import SimulatedDevice, Wiring
from audio.vocab.wiring_file import parse_wiring
from demo import content, make_dis
from demo.recipe import Recipe, read_recipe
from demo.strings import Touch, pluck

PARTS = tuple(make_dis.PARTS)


@pytest.fixture(scope="module")
def recipe() -> Recipe:
    return read_recipe()


@pytest.fixture(scope="module")
def wiring() -> Wiring:
    file = content() / "wiring.yaml"
    return parse_wiring(file.read_text(encoding="utf-8"), where=file.name)


def codes(part: str) -> NDArray[np.int32]:
    with as_file(content() / f"{part}.flac") as path:
        read, rate = soundfile.read(path, dtype="int32")
    assert rate == make_dis.RATE
    return read >> 8


def level_db(signal: NDArray[np.float64]) -> float:
    return float(10.0 * np.log10(np.mean(signal**2)))


# ------------------------------------------------------------------ DIs


@pytest.mark.parametrize("part", PARTS)
def test_the_script_makes_the_files_that_are_shipped(part: str) -> None:
    notes, peak_dbfs, seed = make_dis.PARTS[part]
    made = make_dis.make_di(notes, peak_dbfs=peak_dbfs, seed=seed)
    # One code: sums of products may round differently where a processor fuses them.
    assert np.abs(made - codes(part)).max() <= 1


@pytest.mark.parametrize("part", PARTS)
def test_each_di_is_a_short_mono_24_bit_file_at_the_wirings_rate(part: str, wiring: Wiring) -> None:
    with as_file(content() / f"{part}.flac") as path:
        facts = soundfile.info(path)
    assert (facts.channels, facts.subtype, facts.format) == (1, "PCM_24", "FLAC")
    assert facts.samplerate == wiring.sample_rate
    assert 8.0 <= facts.duration <= 14.0


def test_the_dis_stay_small() -> None:
    sizes = [len((content() / f"{part}.flac").read_bytes()) for part in PARTS]
    assert sum(sizes) < 2_500_000


@pytest.mark.parametrize("part", PARTS)
def test_each_di_peaks_where_a_tracked_di_does_and_fades_at_both_ends(part: str) -> None:
    # -14 to -9 dBFS: common practice, no source.
    di = codes(part) / 2.0**23
    assert -14.0 <= 20.0 * np.log10(np.abs(di).max()) <= -9.0
    assert di[0] == di[-1] == 0.0
    assert level_db(di[: make_dis.RATE // 10] + 1e-12) < -90.0


@pytest.mark.parametrize("note", [40, 52, 69, 74])
def test_a_string_sounds_at_its_note(note: int) -> None:
    # ISO 16: A4 is 440 Hz; equal temperament from there. Two cents: a good tuner's last mark.
    tone = pluck(note, frames=96_000, rate=make_dis.RATE, touch=Touch(), seed=1)
    size = 2**20
    spectrum = np.abs(np.fft.rfft(tone * np.hanning(len(tone)), size))
    due = 440.0 * 2.0 ** ((note - 69) / 12.0)
    near = slice(int(due * 0.9 * size / make_dis.RATE), int(due * 1.1 * size / make_dis.RATE))
    heard = (near.start + int(np.argmax(spectrum[near]))) * make_dis.RATE / size
    assert abs(1200.0 * np.log2(heard / due)) < 2.0


def test_a_palm_takes_a_note_away_sooner() -> None:
    open_, muted = (
        pluck(45, frames=48_000, rate=make_dis.RATE, touch=Touch(muted=m), seed=3)
        for m in (False, True)
    )
    late = slice(24_000, 36_000)
    assert level_db(muted[late]) < level_db(open_[late]) - 30.0


def test_bars_begin_on_the_beat(recipe: Recipe) -> None:
    assert (recipe.bpm, recipe.first_beat_s) == (make_dis.BPM, make_dis.FIRST_BEAT_S)
    di = codes("rhythm-left") / 2.0**23
    for bar in range(make_dis.BARS):
        at = round((recipe.first_beat_s + bar * 4 * 60.0 / recipe.bpm) * make_dis.RATE)
        before, after = di[at - 480 : at], di[at : at + 480]
        assert level_db(after) > level_db(before) + 6.0


def test_the_double_drags_as_a_hand_does() -> None:
    late = [n.late_s for n in make_dis.PARTS["rhythm-right"][0] if n.beat % 0.5 == 0]
    assert 0.0 < np.mean(late) < 0.015
    assert min(late) < 0.0


# ------------------------------------------------------------------ wiring and recipe


def test_every_pass_names_a_part_and_a_chain_that_exist(recipe: Recipe, wiring: Wiring) -> None:
    assert isinstance(wiring.device, SimulatedDevice)
    chains = {"bare path", *wiring.device.chains}
    assert {p.part for p in recipe.passes} == {p.part for p in recipe.parts} == set(PARTS)
    assert {p.chain for p in recipe.passes} == chains
    assert all((content() / p.di).is_file() for p in recipe.parts)


def test_the_demo_needs_no_device_and_does_not_wait_for_a_clock(wiring: Wiring) -> None:
    assert isinstance(wiring.device, SimulatedDevice)
    assert wiring.device.pace == "free"
    assert wiring.send_output == 3
    assert wiring.send_output not in wiring.listen_outputs


def play(wiring: Wiring, part: str, chain: str, *, seconds: int) -> NDArray[np.float64]:
    room = Room(wiring)
    room.plug(chain)
    di = codes(part)[: seconds * make_dis.RATE] / 2.0**23
    sent = np.zeros((len(di) + make_dis.RATE, 8))
    sent[make_dis.RATE // 2 :][: len(di), wiring.send_output - 1] = di
    return room.process(sent)


@pytest.mark.parametrize(
    ("part", "chain"), [("rhythm-left", "fuzz into delay"), ("hook", "tremolo")]
)
def test_a_healthy_chain_comes_back_loud_and_clean(wiring: Wiring, part: str, chain: str) -> None:
    heard = play(wiring, part, chain, seconds=3)
    for one in wiring.returns:
        peak_dbfs = 20.0 * np.log10(np.abs(heard[:, one.input - 1]).max())
        assert -24.0 < peak_dbfs < -3.0, one.name


def test_the_tired_cable_dies_while_it_plays(wiring: Wiring) -> None:
    heard = play(wiring, "rhythm-right", "crunch on a tired cable", seconds=8)
    for one in wiring.returns:
        signal = heard[:, one.input - 1]
        assert level_db(signal[3 * make_dis.RATE : 5 * make_dis.RATE]) > -50.0
        assert level_db(signal[7 * make_dis.RATE : 8 * make_dis.RATE]) < -80.0


def test_reading_the_recipe_loads_no_arithmetic() -> None:
    looked = "import demo.recipe, sys; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", looked], capture_output=True, check=True)
    assert done.stdout.strip() == b"False"
