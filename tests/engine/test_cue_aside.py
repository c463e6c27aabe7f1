"""A cue beside the DI: sent by the frame, never to the amp, and nothing the DI has to wait for."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hand import Hand, turn_while
from wire import Wire

from audio.engine.aside import AsideFile
from audio.engine.outlets import Outlets
from audio.engine.stream import Stream
from audio.files.source import SourceFile
from audio.vocab.errors import UseError
from audio.vocab.messages import Capture, Ended, Roll, Source
from audio.vocab.wiring import Return, SimulatedDevice, Wiring

RATE = 48_000
LISTEN, SEND, LOOP = (0, 1), 2, 3
EVERY = (0, 1, 2, 3)

ROOM = Wiring(
    name="room",
    device=SimulatedDevice(),
    sample_rate=RATE,
    send_output=3,
    returns=(Return(name="close", input=2),),
    reference="close",
    listen_outputs=(1, 2),
)


def sound(path: Path, *, frames: int, seed: int, channels: int = 1) -> np.ndarray:
    samples = np.random.default_rng(seed).uniform(-0.4, 0.4, (frames, channels))
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return soundfile.read(path, dtype="int32", always_2d=True)[0] >> 8


def rolled(roll: Roll, *, sample_format: str = "int32") -> Ended:
    ends: list[Ended] = []
    over = threading.Event()

    def ended(one: Ended) -> None:
        ends.append(one)
        over.set()

    stream = Stream(
        Wire(sample_format=sample_format, delay=600),  # type: ignore[arg-type]
        outlets=Outlets.of(ROOM),
        publish=lambda _: None,
        ended=ended,
        broken=lambda _: over.set(),
    )
    stream.start()
    try:
        stream.roll(roll)
        assert over.wait(20)
    finally:
        stream.close()
    return ends[0]


def di(folder: Path) -> tuple[Source, np.ndarray]:
    codes = sound(folder / "di.wav", frames=60_000, seed=3100)[:, 0]
    path = str(folder / "di.wav")
    return Source(path=path, at_frame=5000, outputs=((SEND, 1.0),), reaches_send=True), codes


def cue(folder: Path, *, frames: int = 80_000) -> tuple[tuple[Source, ...], np.ndarray]:
    codes = sound(folder / "cue.wav", frames=frames, seed=3101, channels=2)
    path = str(folder / "cue.wav")
    return tuple(
        Source(path=path, channel=c, at_frame=900, outputs=((LISTEN[c], 1.0),)) for c in (0, 1)
    ), codes


def sent(folder: Path) -> np.ndarray:
    return soundfile.read(folder / "sent.wav", dtype="int32", always_2d=True)[0] >> 8


def roll(folder: Path, *sources: Source) -> Roll:
    capture = Capture(path=str(folder / "sent.wav"), outputs=EVERY)
    return Roll(roll_id=1, sources=sources, captures=(capture,), length_frames=90_000)


@pytest.mark.parametrize("sample_format", ["int32", "float32"])
def test_the_send_is_the_same_to_the_bit_with_a_cue_and_the_cue_lies_on_its_frames(
    tmp_path: Path, sample_format: str
) -> None:
    one, played = di(tmp_path)
    rolled(roll(tmp_path, one), sample_format=sample_format)
    alone = sent(tmp_path)
    (tmp_path / "sent.wav").unlink()
    beside, heard = cue(tmp_path)
    ended = rolled(roll(tmp_path, one, *beside), sample_format=sample_format)
    with_cue = sent(tmp_path)
    np.testing.assert_array_equal(with_cue[:, SEND], alone[:, SEND])
    np.testing.assert_array_equal(with_cue[5000:65_000, SEND], played)
    np.testing.assert_array_equal(with_cue[900:80_900, :2], heard)
    assert not with_cue[:, LOOP].any()
    assert (ended.reason, ended.note) == ("complete", "")


@pytest.mark.parametrize("output", [SEND, LOOP])
def test_a_cue_that_is_led_to_the_amp_is_refused(tmp_path: Path, output: int) -> None:
    one, _ = di(tmp_path)
    cue(tmp_path)
    stray = Source(path=str(tmp_path / "cue.wav"), outputs=((output, 1.0),))
    with pytest.raises(UseError, match=r"may not reach output 3|carries nothing"):
        rolled(roll(tmp_path, one, stray))
    assert not (tmp_path / "sent.wav").exists()


def test_a_cue_that_is_no_number_or_too_loud_neither_stops_nor_marks_the_pass(
    tmp_path: Path,
) -> None:
    one, played = di(tmp_path)
    wild = np.full(50_000, 0.25, dtype=np.float32)
    wild[20_000], wild[30_000] = np.nan, 7.0
    soundfile.write(tmp_path / "wild.wav", wild, RATE, subtype="FLOAT")
    stray = Source(path=str(tmp_path / "wild.wav"), outputs=((0, 1.0),))
    ended = rolled(roll(tmp_path, one, stray))
    np.testing.assert_array_equal(sent(tmp_path)[5000:65_000, SEND], played)
    assert sent(tmp_path)[20_000, 0] == 0
    assert (ended.reason, ended.send_clipped) == ("complete", 0)


class SlowFile(SourceFile):
    """Stands still from a frame on until it is let go."""

    stands_at = 1 << 40
    go = threading.Event()

    def read(self, start: int, frames: int, *, channel: int) -> np.ndarray:
        if self.path.name == "cue.wav" and start >= self.stands_at:
            self.go.wait(10)
        return super().read(start, frames, channel=channel)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> type[SlowFile]:
    monkeypatch.setattr(SlowFile, "stands_at", 1 << 40)
    monkeypatch.setattr(SlowFile, "go", threading.Event())
    monkeypatch.setattr("audio.engine.voice.SourceFile", SlowFile)
    monkeypatch.setattr("audio.engine.aside.FREE_S", 0.2)
    return SlowFile


def test_a_cue_whose_file_stands_still_is_silent_and_the_di_goes_on(
    tmp_path: Path, slow: type[SlowFile]
) -> None:
    slow.stands_at = 40_000
    one, played = di(tmp_path)
    beside, heard = cue(tmp_path)
    try:
        ended = rolled(roll(tmp_path, one, beside[0]))
    finally:
        slow.go.set()
    out = sent(tmp_path)
    np.testing.assert_array_equal(out[5000:65_000, SEND], played)
    assert (ended.reason, ended.dropouts) == ("complete", ())
    assert "cue.wav could not be read in time" in ended.note
    silent = np.flatnonzero(out[2000:, 0])[-1] + 2000
    assert 36_000 < silent < 55_000, "heard until it stood still, then a fade"
    np.testing.assert_array_equal(out[900:30_000, 0], heard[: 30_000 - 900, 0])


def test_a_file_that_was_late_is_heard_again_without_a_step(
    tmp_path: Path, slow: type[SlowFile]
) -> None:
    frames = 400_000
    soundfile.write(tmp_path / "cue.wav", np.full(frames, 0.5), RATE, subtype="PCM_24")
    slow.stands_at = 100_000
    file = AsideFile(SlowFile(tmp_path / "cue.wav"), channel=0, rate=RATE, paced=False)
    heard = []
    for at in range(0, frames, 4096):
        heard.append(file.read(at, min(4096, frames - at), channel=0))
        if file.silent_from is not None:
            slow.go.set()
            threading.Event().wait(0.002)  # the thread gets its turn, as between two feeds
    file.close()
    sound = np.concatenate(heard)
    assert sound[0] == 0.5
    assert sound[-1] == 0.5
    assert (sound == 0.0).any()
    assert np.abs(np.diff(sound)).max() < 0.5 * np.pi / 2 / 480 * 1.05, "half a cosine of 10 ms"


def test_a_stop_fades_the_cue_with_the_send(tmp_path: Path) -> None:
    for name in ("di", "cue"):
        soundfile.write(tmp_path / f"{name}.wav", np.full(200_000, 0.5), RATE, subtype="PCM_24")
    device = Hand(rate=RATE, block_frames=512, channels=4, sample_format="int32")
    ends: list[Ended] = []
    stream = Stream(
        device,
        outlets=Outlets.of(ROOM),
        publish=lambda _: None,
        ended=ends.append,
        broken=lambda _: None,
    )
    stream.start()
    sources = (
        Source(path=str(tmp_path / "di.wav"), outputs=((SEND, 1.0),), reaches_send=True),
        Source(path=str(tmp_path / "cue.wav"), outputs=((0, 1.0), (1, 1.0))),
    )
    stream.roll(Roll(roll_id=1, sources=sources, length_frames=200_000))
    for _ in range(40):
        device.turn(512)
    stream.stop("stopped")
    turn_while(device, stream.close, frames=512)
    levels = device.levels()
    loud = np.flatnonzero(levels[:, 0])
    assert not levels[-1].any()
    for output in (0, 1, SEND):
        steps = np.abs(np.diff(levels[loud[0] :, output]))
        assert steps.max() < 0.5 * np.pi / 2 / 480 * 1.05
