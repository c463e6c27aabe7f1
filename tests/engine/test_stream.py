"""The stream: what is sent, what is recorded, and where, on a wire whose delay is known."""

from __future__ import annotations

import hashlib
import json
import queue
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile
from wire import Wire

from audio.device.port import INPUT_OVERFLOW, OUTPUT_UNDERFLOW
from audio.engine.outlets import Outlets
from audio.engine.recording import RECORD_BYTES
from audio.engine.stream import Stream
from audio.files.text import reserved_name
from audio.vocab.errors import UseError
from audio.vocab.messages import (
    Capture,
    DeadEnd,
    Ended,
    Gain,
    QuietEnd,
    Roll,
    Source,
    Span,
    decode_event,
)

RATE = 48_000
DELAY = 1000
FADE = RATE // 100


class Bench:
    """A running stream and what it said."""

    def __init__(self, device: Wire) -> None:
        self.device = device
        self._ended: queue.Queue[Ended] = queue.Queue()
        self.broken: queue.Queue[str] = queue.Queue()
        self.stream = Stream(
            device,
            outlets=Outlets(amp=frozenset(range(device.outputs)), ears=frozenset()),
            publish=lambda _: None,
            ended=self._ended.put,
            broken=self.broken.put,
        )
        self.stream.start()

    def roll(self, **what: object) -> Ended:
        self.start(**what)
        return self.end()

    def start(self, **what: object) -> int:
        return self.stream.roll(Roll(roll_id=1, **what))  # type: ignore[arg-type]

    def end(self) -> Ended:
        return self._ended.get(timeout=20)


@contextmanager
def running(**wire: object) -> Iterator[Bench]:
    bench = Bench(Wire(delay=DELAY, **wire))  # type: ignore[arg-type]
    try:
        yield bench
    finally:
        bench.stream.close()


def noise(path: Path, *, frames: int = 30_000, peak: float = 0.5, seed: int = 1) -> np.ndarray:
    samples = np.random.default_rng(seed).uniform(-peak, peak, frames)
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return soundfile.read(path, dtype="int32")[0] >> 8


def to_amp(**what: object) -> Source:
    return Source(reaches_send=True, **what)  # type: ignore[arg-type]


def codes(path: Path) -> np.ndarray:
    return soundfile.read(path, dtype="int32", always_2d=True)[0] >> 8


@pytest.mark.parametrize("sample_format", ["float32", "int32"])
def test_a_di_comes_back_bit_for_bit_and_in_place(tmp_path: Path, sample_format: str) -> None:
    sent = noise(tmp_path / "di.wav")
    with running(sample_format=sample_format) as bench:
        ended = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), at_frame=2000, outputs=((2, 1.0),)),),
            captures=(
                Capture(path=str(tmp_path / "back.wav"), inputs=(2,), from_frame=2000 + DELAY),
                Capture(path=str(tmp_path / "other.wav"), inputs=(1, 3), from_frame=0),
                Capture(path=str(tmp_path / "sent.wav"), outputs=(2,), from_frame=2000),
            ),
            length_frames=40_000,
            record=str(tmp_path / "roll.json"),
            lock=str(tmp_path / "lock"),
        )
    back = codes(tmp_path / "back.wav")[:, 0]
    assert ended.reason == "complete"
    assert ended.frames == 40_000
    assert len(back) == 40_000 - 2000 - DELAY
    np.testing.assert_array_equal(back[: len(sent)], sent)
    assert not back[len(sent) :].any()
    np.testing.assert_array_equal(codes(tmp_path / "sent.wav")[: len(sent), 0], sent)
    assert not codes(tmp_path / "other.wav").any(), "unused outputs carry zeros"
    data = (tmp_path / "back.wav").read_bytes()[4096 : 4096 + 3 * len(back)]
    assert ended.recorded[0].audio_sha256 == hashlib.sha256(data).hexdigest()
    assert json.loads((tmp_path / "roll.json").read_text())["frames"] == 40_000
    assert ended.dropouts == ()
    assert ended.send_clipped == 0


def test_the_record_has_its_room_before_the_first_frame_and_its_name_only_after_the_last(
    tmp_path: Path,
) -> None:
    record = tmp_path / "roll.json"
    with running() as bench:
        bench.start(length_frames=30 * RATE, record=str(record))
        assert reserved_name(record).stat().st_size == RECORD_BYTES
        assert not record.exists()
        bench.stream.stop("stopped")
        ended = bench.end()
    assert decode_event(record.read_bytes()) == ended
    assert [one.name for one in tmp_path.iterdir()] == ["roll.json"]


def test_a_trim_is_applied_and_clipping_of_the_send_is_counted(tmp_path: Path) -> None:
    sent = noise(tmp_path / "di.wav")
    with running(sample_format="int32") as bench:
        ended = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), gain_db=12.0, outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0,)),),
            length_frames=len(sent),
        )
    louder = np.rint(sent * 10 ** (12 / 20))
    top = (1 << 23) - 1
    expected = np.clip(louder, -(1 << 23), top)
    assert np.abs(codes(tmp_path / "sent.wav")[:, 0] - expected).max() <= 1
    assert ended.send_clipped == np.count_nonzero((louder > top) | (louder < -(1 << 23)))
    assert ended.send_clipped > 1000


def test_a_stop_fades_in_ten_milliseconds_and_keeps_what_was_recorded(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "dc.wav", np.full(20 * RATE, 0.5), RATE, subtype="PCM_24")
    with running() as bench:
        bench.start(
            sources=(to_amp(path=str(tmp_path / "dc.wav"), outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0,)),),
            length_frames=20 * RATE,
        )
        while bench.stream.place().roll_frame < RATE // 2:
            pass
        bench.stream.stop("stopped")
        ended = bench.end()
    sent = soundfile.read(tmp_path / "sent.wav")[0]
    assert ended.reason == "stopped"
    assert ended.frames == len(sent) < 20 * RATE
    fade = sent[-480:]
    assert sent[-481] == pytest.approx(0.5)
    assert np.all(np.diff(fade) < 0)
    assert abs(fade[-1]) < 0.002
    everything = np.concatenate(bench.device.sent)[:, 0]
    after = np.flatnonzero(everything)[-1]
    assert not everything[after + 1 :].any(), "nothing sounds after a stop"


def test_a_device_that_still_calls_but_is_not_what_it_was_ends_a_roll_with_its_fade(
    tmp_path: Path,
) -> None:
    soundfile.write(tmp_path / "dc.wav", np.full(20 * RATE, 0.5), RATE, subtype="PCM_24")
    with running() as bench:
        bench.start(
            sources=(to_amp(path=str(tmp_path / "dc.wav"), outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0,)),),
            length_frames=20 * RATE,
        )
        assert bench.stream.trouble() is None
        while bench.stream.place().roll_frame < RATE // 2:
            pass
        bench.device.failure = "a cable was pulled"
        while (why := bench.stream.trouble()) is None:
            pass  # the device is looked at every so often only
        bench.stream.abandon(why)
        ended = bench.end()
    assert (ended.reason, ended.note) == ("device", "a cable was pulled")
    sent = soundfile.read(tmp_path / "sent.wav")[0]
    assert sent[-481] == pytest.approx(0.5)
    assert abs(sent[-1]) < 0.002


def test_two_rolls_follow_each_other_on_one_counter(tmp_path: Path) -> None:
    noise(tmp_path / "di.wav", frames=5000)
    with running() as bench:
        first = bench.roll(length_frames=6000)
        second = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), outputs=((1, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "a.wav"), inputs=(1,), from_frame=DELAY),),
            length_frames=7000,
        )
    assert second.stream_frame >= first.stream_frame + 6000
    np.testing.assert_array_equal(
        codes(tmp_path / "a.wav")[:5000, 0], codes(tmp_path / "di.wav")[:, 0]
    )


def test_a_roll_ends_when_the_return_has_been_quiet_for_so_long(tmp_path: Path) -> None:
    noise(tmp_path / "di.wav", frames=24_000)
    with running() as bench:
        ended = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "a.wav"), inputs=(0,), from_frame=DELAY),),
            length_frames=20 * RATE,
            quiet=QuietEnd(after_frame=24_000, inputs=(0,), under_dbfs=(-60.0,), for_frames=RATE),
        )
    assert ended.reason == "quiet"
    # The wire is silent from 25 000 on; the first whole quiet window of 2400 begins at 26 400.
    assert ended.frames == 26_400 + RATE
    assert len(codes(tmp_path / "a.wav")) == ended.frames - DELAY


def test_sending_into_a_dead_amp_stops_after_its_second(tmp_path: Path) -> None:
    noise(tmp_path / "di.wav", frames=10 * RATE)
    with running() as bench:
        ended = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), outputs=((2, 1.0),)),),
            length_frames=10 * RATE,
            dead=DeadEnd(
                output=2, loud_dbfs=-30.0, inputs=(0, 1), under_dbfs=(-80.0, -80.0), for_frames=RATE
            ),
        )
    assert ended.reason == "dead"
    sounding = np.flatnonzero(np.concatenate(bench.device.sent)[:, 2])
    assert sounding[-1] - sounding[0] < 4 * RATE, "the free-running wire may run one ring ahead"


def test_an_answering_amp_is_not_taken_for_dead(tmp_path: Path) -> None:
    noise(tmp_path / "di.wav", frames=3 * RATE)
    with running() as bench:
        ended = bench.roll(
            sources=(to_amp(path=str(tmp_path / "di.wav"), outputs=((0, 1.0),)),),
            length_frames=3 * RATE,
            dead=DeadEnd(
                output=0, loud_dbfs=-30.0, inputs=(0, 1), under_dbfs=(-80.0, -80.0), for_frames=RATE
            ),
        )
    assert ended.reason == "complete"


def test_a_flagged_callback_is_a_dropout_at_its_frame() -> None:
    with running() as bench:
        bench.device.flag_at = {60: INPUT_OVERFLOW | OUTPUT_UNDERFLOW}
        ended = bench.roll(length_frames=60_000)
    (dropout,) = ended.dropouts
    assert dropout.kind == "input overflow"
    assert dropout.at_frame == 60 * 512 - ended.stream_frame


def test_frames_the_clock_says_are_missing_are_counted_without_any_flag() -> None:
    with running() as bench:
        bench.device.lose_at = {200: 4352}
        ended = bench.roll(length_frames=6 * RATE)
    (dropout,) = ended.dropouts
    assert dropout.kind == "clock step"
    assert dropout.frames == pytest.approx(4352, abs=1)
    lost_at = 200 * 512 - ended.stream_frame
    assert 0 <= dropout.at_frame - lost_at <= 0.3 * RATE


def test_a_flag_and_a_clock_step_beside_it_are_one_event_with_a_known_size() -> None:
    with running() as bench:
        bench.device.lose_at = {200: 4352}
        bench.device.flag_at = {201: INPUT_OVERFLOW}
        ended = bench.roll(length_frames=6 * RATE)
    (dropout,) = ended.dropouts
    assert dropout.frames == pytest.approx(4352, abs=1)
    assert dropout.at_frame == 201 * 512 - ended.stream_frame


def test_a_loop_repeats_until_it_is_cleared(tmp_path: Path) -> None:
    sent = noise(tmp_path / "di.wav", frames=20_000)
    with running() as bench:
        bench.start(
            sources=(to_amp(path=str(tmp_path / "di.wav"), outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0,)),),
            length_frames=40_000,
            loop=Span(start=4000, end=9000),
        )
        ended = bench.end()
    assert ended.frames == 40_000
    out = codes(tmp_path / "sent.wav")[:, 0]
    np.testing.assert_array_equal(out[:9000], sent[:9000])
    for joint in (9000, 14_000, 34_000):
        np.testing.assert_array_equal(
            out[joint + FADE : joint + 5000], sent[4000 + FADE : 9000], strict=True
        )


def test_a_jump_lands_where_asked_behind_one_fade(tmp_path: Path) -> None:
    ramp = np.arange(60 * RATE) / (1 << 23)
    soundfile.write(tmp_path / "ramp.wav", ramp, RATE, subtype="PCM_24")
    with running() as bench:
        bench.start(
            sources=(to_amp(path=str(tmp_path / "ramp.wav"), outputs=((0, 1.0),)),),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0,)),),
            length_frames=20 * RATE,
        )
        bench.stream.jump(30 * RATE)
        bench.end()
    sent = codes(tmp_path / "sent.wav")[:-FADE, 0]
    odd = np.flatnonzero(np.diff(sent) != 1)
    assert odd[-1] - odd[0] <= FADE
    joint = int(odd[0])
    assert sent[joint + FADE + 1] == 30 * RATE + FADE, "the fade plays from where the jump leads"


def test_gains_fade_at_the_frame_asked_for_and_power_is_kept(tmp_path: Path) -> None:
    for name in ("a", "b"):
        soundfile.write(tmp_path / f"{name}.wav", np.full(2 * RATE, 0.5), RATE, subtype="PCM_24")
    with running() as bench:
        bench.start(
            sources=(
                to_amp(path=str(tmp_path / "a.wav"), outputs=((0, 1.0), (1, 0.0))),
                to_amp(path=str(tmp_path / "b.wav"), outputs=((0, 0.0), (1, 0.0))),
            ),
            captures=(Capture(path=str(tmp_path / "sent.wav"), outputs=(0, 1), depth=32),),
            length_frames=2 * RATE,
        )
        bench.stream.gain(
            Gain(
                roll_id=1,
                gains=((0, 0, 0.0), (0, 1, 1.0)),
                at_frame=RATE + 100,
                ramp_frames=480,
            )
        )
        bench.end()
    sent = soundfile.read(tmp_path / "sent.wav")[0]
    assert np.all(sent[: RATE + 100, 0] == 0.5)
    assert np.all(sent[: RATE + 100, 1] == 0.0)
    assert np.all(sent[RATE + 580 :, 0] == 0.0)
    assert np.all(sent[RATE + 580 :, 1] == 0.5)
    power = (sent**2).sum(axis=1)
    np.testing.assert_allclose(power, 0.25, rtol=1e-5)


def test_a_roll_can_be_extended_while_it_runs(tmp_path: Path) -> None:
    with running() as bench:
        bench.start(
            captures=(Capture(path=str(tmp_path / "a.wav"), inputs=(0,)),), length_frames=30 * RATE
        )
        bench.stream.extend(40 * RATE)
        ended = bench.end()
    assert ended.frames == 40 * RATE


def test_a_capture_never_replaces_a_file(tmp_path: Path) -> None:
    (tmp_path / "there.wav").write_bytes(b"mine")
    with running() as bench, pytest.raises(FileExistsError):
        bench.start(
            captures=(Capture(path=str(tmp_path / "there.wav"), inputs=(0,)),), length_frames=1000
        )
    assert (tmp_path / "there.wav").read_bytes() == b"mine"


@pytest.mark.parametrize(
    ("what", "match"),
    [
        ({"captures": (Capture(path="x.wav", inputs=(4,)),)}, "4 inputs; input 5"),
        ({"captures": (Capture(path="x.wav", outputs=(9,)),)}, "4 outputs; output 10"),
        ({"sources": (to_amp(path="no.wav", outputs=((0, 1.0),)),)}, "no.wav"),
    ],
)
def test_a_roll_that_cannot_be_is_refused_and_the_next_one_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: dict[str, object], match: str
) -> None:
    monkeypatch.chdir(tmp_path)
    with running() as bench:
        with pytest.raises(UseError, match=match):
            bench.start(length_frames=1000, **what)
        assert bench.roll(length_frames=1000).reason == "complete"
    assert list(tmp_path.iterdir()) == []


def test_a_file_of_another_rate_is_refused_with_both_numbers(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(100), 44_100)
    with running() as bench, pytest.raises(UseError, match=r"44100 Hz .* 48000 Hz"):
        bench.start(
            sources=(to_amp(path=str(tmp_path / "a.wav"), outputs=((0, 1.0),)),), length_frames=1000
        )


def test_a_source_that_cannot_be_read_any_more_stops_its_roll_and_the_next_one_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    noise(tmp_path / "di.wav", frames=20 * RATE)
    source = to_amp(path=str(tmp_path / "di.wav"), outputs=((0, 1.0),))
    with running() as bench:
        bench.start(sources=(source,), length_frames=20 * RATE)
        assert bench.stream.recording is not None

        def fails(*_: object) -> None:
            raise OSError("the disk is gone")

        monkeypatch.setattr(bench.stream.recording.program.timeline, "render", fails)
        ended = bench.end()
        assert ended.reason == "starved"
        assert ended.note == "the disk is gone"
        assert bench.roll(length_frames=1000).reason == "complete"


def test_a_writer_that_fails_says_so_instead_of_going_on_unwritten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with running() as bench:
        bench.start(length_frames=20 * RATE)
        assert bench.stream.recording is not None

        def fails(*_: object) -> None:
            raise RuntimeError("a mistake of ours")

        monkeypatch.setattr(bench.stream.recording, "take", fails)
        assert bench.broken.get(timeout=10) == "RuntimeError: a mistake of ours"
