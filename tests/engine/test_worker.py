"""The worker's process and its client, as they run: real processes, real files, real playing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import numpy as np
import pytest
import soundfile
from captures import start
from needs import GUITARS, needs_samples
from playing import phrase, write_phrase

from audio.files.capture import CaptureFile
from audio.measure.running import RunningLevels, RunningReturn
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.requests import Follow, Inspect
from audio.vocab.results import Outlines, PassMeasures, ReturnMeasures
from audio.vocab.work import Envelope, Reply, decode_reply, encode
from audio.work.client import Worker
from audio.work.following import Following

RATE = 48_000
BLOCK = 512


@pytest.fixture
def worker() -> Iterator[Worker]:
    with Worker() as worker:
        yield worker


def pid_of(worker: Worker) -> int:
    assert worker._child is not None
    return worker._child._process.pid


# ------------------------------------------------------------------ questions and answers


def test_clicks_go_to_a_file_and_come_back_as_readings(worker: Worker, tmp_path: Path) -> None:
    train = worker.make_clicks(tmp_path / "click.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    sent, rate = soundfile.read(tmp_path / "click.wav")
    assert (rate, sent.size) == (RATE, train.frames)
    noise = np.random.default_rng(1).standard_normal((train.frames, 2)) * 1e-4
    late = np.concatenate((np.zeros(300), sent))[: train.frames]
    soundfile.write(tmp_path / "back.wav", noise + np.outer(late, (0.5, -0.25)), RATE, "PCM_24")
    close, room = worker.read_clicks(tmp_path / "back.wav", train)
    assert close.delay_frames == pytest.approx(300, abs=0.05)
    assert room.delay_frames == pytest.approx(300, abs=0.05)
    assert (close.polarity, room.polarity) == ("normal", "inverted")


def test_channels_whose_arrival_is_not_sought_are_read_by_their_peak(
    worker: Worker, tmp_path: Path
) -> None:
    train = worker.make_clicks(tmp_path / "click.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    sent, _ = soundfile.read(tmp_path / "click.wav")
    smeared = np.convolve(sent, 0.7 ** np.arange(60))[: train.frames] * 0.3
    noise = np.random.default_rng(1).standard_normal((train.frames, 2)) * 1e-5
    soundfile.write(tmp_path / "back.wav", noise + smeared[:, None], RATE, "PCM_24")
    sought, other = worker.read_clicks(tmp_path / "back.wav", train, arrivals_of=(0,))
    assert other.delay_frames == other.peak_delay_frames
    assert sought.delay_frames != sought.peak_delay_frames


def test_a_worker_started_beforehand_is_the_one_that_answers(
    worker: Worker, tmp_path: Path
) -> None:
    worker.start()
    pid = pid_of(worker)
    worker.start()
    worker.make_clicks(tmp_path / "click.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    assert pid_of(worker) == pid


@needs_samples()
def test_a_file_is_inspected_and_a_torn_capture_repaired(worker: Worker, tmp_path: Path) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=2.0, seed=1)
    facts = worker.inspect(di)
    assert (facts.frames, facts.sample_rate, facts.encoding) == (2 * RATE, RATE, "PCM_24")
    assert facts.peak_dbfs == pytest.approx(-12.0, abs=0.01)
    capture = start(tmp_path / "torn.wav")
    capture.write(np.full((1000, 1), 0.25, dtype=np.float32))
    os.close(capture._fd)
    assert worker.repair(tmp_path / "torn.wav").frames == 1000
    assert soundfile.info(tmp_path / "torn.wav").frames == 1000


@needs_samples()
@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda w, p: w.inspect(p / "none.wav"), "none.wav"),
        (lambda w, p: w.repair(p / "none.wav"), "none.wav"),
        (lambda w, p: w.outline(p / "none.wav", channel=0), "none.wav cannot be opened"),
        (lambda w, p: w.outline(p, channel=0), "is a folder"),
        (lambda w, _: w.outline(GUITARS[0], channel=2), "2 channels; channel 3 was asked for"),
        (
            lambda w, p: w.closeup(p / "none.wav", channel=0, at_frame=0, frames=1),
            "none.wav cannot be opened",
        ),
        (lambda w, _: w.finish(7), "ask to follow its files first"),
        (
            lambda w, p: w.make_clicks(p / "c.wav", sample_rate=8000, level_dbfs=-20.0, clicks=2),
            "44100 to 192000",
        ),
        (
            lambda w, p: w.make_clicks(
                p / "no" / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2
            ),
            "cannot be written",
        ),
    ],
)
def test_bad_input_is_one_sentence_and_the_worker_stays(
    worker: Worker, tmp_path: Path, ask: object, says: str
) -> None:
    assert callable(ask)
    with pytest.raises(UseError, match=says) as told:
        ask(worker, tmp_path)
    assert "\n" not in str(told.value)
    before = pid_of(worker)
    worker.make_clicks(tmp_path / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    assert pid_of(worker) == before


def test_a_recording_at_another_rate_than_its_click_is_refused(
    worker: Worker, tmp_path: Path
) -> None:
    train = worker.make_clicks(tmp_path / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    soundfile.write(tmp_path / "back.wav", np.zeros(train.frames), 44_100, "PCM_24")
    with pytest.raises(UseError, match=r"at 44100, the test click at 48000"):
        worker.read_clicks(tmp_path / "back.wav", train)


# ------------------------------------------------------------------ sound for the eye


def extremes(outlines: Outlines, level: int = 0) -> tuple[np.ndarray, np.ndarray]:
    one = outlines.levels[level]
    return np.frombuffer(one.lows, np.int16), np.frombuffer(one.highs, np.int16)


@needs_samples()
@pytest.mark.parametrize("kind", ["WAV", "FLAC", "AIFF", "RF64"])
def test_an_outline_is_the_extremes_of_the_channel_asked_for(
    worker: Worker, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / f"two.{kind.lower()}"
    left, right = (phrase(rate=RATE, seconds=6.0, seed=seed) for seed in (1, 2))
    soundfile.write(path, np.stack((left, right), axis=1), RATE, "PCM_16", format=kind)
    outlines = worker.outline(path, channel=1)
    assert (outlines.frames, outlines.sample_rate) == (6 * RATE, RATE)
    assert (outlines.path, outlines.channel) == (str(path), 1)
    assert [one.bin_frames for one in outlines.levels] == [256, 1024]
    written = soundfile.read(path, dtype="int16")[0][:, 1]
    for level, one in enumerate(outlines.levels):
        starts = np.arange(0, written.size, one.bin_frames)
        lows, highs = extremes(outlines, level)
        assert np.array_equal(lows, np.minimum.reduceat(written, starts))
        assert np.array_equal(highs, np.maximum.reduceat(written, starts))


def test_an_outline_of_a_long_file_is_made_of_pieces_that_fit_together(
    worker: Worker, tmp_path: Path
) -> None:
    """The file is longer than the worker holds at a time, and its last piece is one frame."""
    codes = np.random.default_rng(3).integers(-(2**15), 2**15, 3 * 131_072 + 1).astype(np.int16)
    soundfile.write(tmp_path / "long.wav", codes, RATE, "PCM_16")
    lows, highs = extremes(worker.outline(tmp_path / "long.wav", channel=0))
    starts = np.arange(0, codes.size, 256)
    assert np.array_equal(lows, np.minimum.reduceat(codes, starts))
    assert np.array_equal(highs, np.maximum.reduceat(codes, starts))


@needs_samples()
def test_a_closeup_is_the_samples_themselves_and_silence_outside(worker: Worker) -> None:
    path = GUITARS[0]
    samples = soundfile.read(path, dtype="int16", always_2d=True)[0][:, 1]
    got = np.frombuffer(worker.closeup(path, channel=1, at_frame=1000, frames=4096), np.int16)
    # the recording has 16 bits, so that nothing is rounded
    assert soundfile.info(path).subtype == "PCM_16"
    assert np.array_equal(got, samples[1000:5096])
    late = worker.closeup(path, channel=1, at_frame=samples.size - 10, frames=20)
    assert np.frombuffer(late, np.int16).tolist() == [*samples[-10:].tolist(), *[0] * 10]


def test_single_samples_of_more_than_a_closeup_are_refused(worker: Worker, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.full(10, 0.1), RATE, "PCM_24")
    for frames in (0, -5, 131_073):
        with pytest.raises(UseError, match=f"{frames} single samples .* 1 to 131072"):
            worker.closeup(tmp_path / "a.wav", channel=0, at_frame=0, frames=frames)


# ------------------------------------------------------------------ following a pass


def append(captures: list[CaptureFile], sound: np.ndarray) -> None:
    for capture in captures:
        capture.write(sound.astype(np.float32)[:, None])


def expected(path: Path, di: Path) -> ReturnMeasures:
    """What a return tells by itself."""
    running, levels = RunningReturn(rate=RATE), RunningLevels(rate=RATE)
    running.feed(soundfile.read(path)[0])
    levels.feed(soundfile.read(di)[0])
    return running.measures(path=str(path), di_levels_dbfs=levels.levels_dbfs())


def alone(measured: ReturnMeasures) -> ReturnMeasures:
    """Leave out what a return tells beside others."""
    return msgspec.structs.replace(measured, copy_share=None, copy_gain_db=None, together=None)


def follow_of(paths: list[Path], di: Path) -> Follow:
    return Follow(
        follow_id=3,
        paths=tuple(str(p) for p in paths),
        di_path=str(di),
        di_channel=0,
        sample_rate=RATE,
    )


@pytest.mark.slow
@needs_samples()
@pytest.mark.parametrize("depth", [24, 32])
def test_captures_are_measured_while_they_grow_and_the_end_is_not_missed(
    worker: Worker, tmp_path: Path, depth: int
) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=3.0, seed=2)
    music = np.clip(phrase(rate=RATE, seconds=3.0, seed=2, peak_dbfs=3.0), -1.0, 1.0)
    music = music[: 3 * RATE - 1]  # odd, so that a pad byte follows 24-bit samples
    paths = [tmp_path / "close.wav", tmp_path / "room.wav"]
    captures = [start(paths[0], depth=depth)]
    worker.follow(follow_of(paths, di))  # the second does not exist yet
    captures.append(start(paths[1], depth=depth))
    for at in range(0, music.size, BLOCK):
        append(captures, music[at : at + BLOCK])
        if at % (40 * BLOCK) == 0:
            for capture in captures:
                capture.sync()
    for capture in captures:
        capture.close()
    measures = worker.finish(3)
    assert tuple(map(alone, measures.returns)) == tuple(expected(path, di) for path in paths)
    assert measures.returns[0].frames == music.size
    assert measures.returns[0].clipped_runs > 0
    assert len(measures.di_levels_dbfs) == 60
    assert measures.window_frames == RATE // 20


@needs_samples()
def test_closed_captures_are_measured_the_same_way(worker: Worker, tmp_path: Path) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=1.0, seed=3)
    capture = start(tmp_path / "close.wav")
    append([capture], phrase(rate=RATE, seconds=1.0, seed=3))
    capture.close()
    worker.follow(follow_of([tmp_path / "close.wav"], di))
    (measured,) = worker.finish(3).returns
    assert alone(measured) == expected(tmp_path / "close.wav", di)


@needs_samples()
def test_a_pass_whose_captures_are_closed_is_measured_before_it_is_asked_for(
    tmp_path: Path,
) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=1.0, seed=3)
    capture = start(tmp_path / "close.wav")
    following = Following(follow_of([tmp_path / "close.wav"], di))
    append([capture], phrase(rate=RATE, seconds=1.0, seed=3))
    capture.close()
    following.close()
    following._thread.join(timeout=60.0)
    assert not following._thread.is_alive()
    measures = following.finish()
    assert measures is not None
    assert alone(measures.returns[0]) == expected(tmp_path / "close.wav", di)


@needs_samples()
def test_other_questions_are_answered_while_a_pass_is_followed(
    worker: Worker, tmp_path: Path
) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=1.0, seed=3)
    capture = start(tmp_path / "close.wav")
    worker.follow(follow_of([tmp_path / "close.wav"], di))
    assert worker.inspect(di).frames == RATE
    capture.close()
    worker.close_captures(3)
    assert worker.inspect(di).frames == RATE
    assert worker.finish(3).returns[0].frames == 0


@needs_samples()
def test_what_is_no_capture_is_told_when_the_pass_is_finished(
    worker: Worker, tmp_path: Path
) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=1.0, seed=3)
    worker.follow(follow_of([di], di))
    with pytest.raises(UseError, match="is no capture of this program"):
        worker.finish(3)
    worker.follow(follow_of([tmp_path / "close.wav"], tmp_path / "none.wav"))
    with pytest.raises(UseError, match=r"none\.wav"):
        worker.finish(3)


SLIPS_AT = 7 * RATE


def recorded(folder: Path, sounds: dict[str, np.ndarray]) -> dict[str, str]:
    """Write captures of one length and close them; return their paths."""
    for name, sound in sounds.items():
        capture = start(folder / f"{name}.wav")
        append([capture], sound)
        capture.close()
    return {name: str(folder / f"{name}.wav") for name in sounds}


def whole_pass(worker: Worker, folder: Path) -> PassMeasures:
    """Follow a pass with two microphones, a witness that lost 37 frames, and a sound loop."""
    rate, draw = RATE, np.random.default_rng(4)
    music = np.concatenate((phrase(rate=rate, seconds=14.0, seed=6), np.zeros(2 * rate)))
    soundfile.write(folder / "di.wav", music, rate, "PCM_24")
    driven = np.tanh(8.0 * music / np.max(np.abs(music)))
    late = np.concatenate((np.zeros(400), driven))[: music.size]
    lost = np.concatenate((music[:SLIPS_AT], music[SLIPS_AT + 37 :], np.zeros(37)))
    hum = 1e-3 * np.sin(2.0 * np.pi * 50.0 * np.arange(music.size) / rate)
    hiss = 1e-4 * draw.standard_normal((4, music.size))
    sounds = {
        "close": 0.3 * driven + hum + hiss[0],
        "room": -0.1 * late + hiss[1],
        "loop": music + hiss[2],
        "witness": 0.5 * lost + hiss[3],
    }
    paths = recorded(folder, sounds)
    worker.follow(
        Follow(
            follow_id=3,
            paths=(paths["room"], paths["close"]),
            di_path=str(folder / "di.wav"),
            di_channel=0,
            sample_rate=rate,
            reference=1,
            witness_path=paths["witness"],
            loop_path=paths["loop"],
        )
    )
    return worker.finish(3)


@needs_samples()
def test_loop_and_witness_are_held_against_the_di_and_the_returns_against_the_reference(
    worker: Worker, tmp_path: Path
) -> None:
    measures = whole_pass(worker, tmp_path)
    assert measures.loop is not None
    assert measures.loop.delay_frames == pytest.approx(0.0, abs=0.1)
    assert measures.loop.slips == ()
    assert measures.witness is not None
    (slip,) = measures.witness.slips
    assert slip.frames == -37
    assert abs(slip.at_frame - SLIPS_AT) <= slip.within_frames
    assert measures.witness.gain_db == pytest.approx(-6.02, abs=0.1)
    room, close = measures.returns
    assert close.together is None
    assert room.together is not None
    assert room.together.polarity == "inverted"
    assert measures.music is not None


@pytest.mark.slow
@needs_samples()
def test_noise_and_hum_are_read_where_the_di_rests(worker: Worker, tmp_path: Path) -> None:
    room, close = whole_pass(worker, tmp_path).returns
    assert room.rest_noise_dbfs == pytest.approx(-80.0, abs=0.3)
    assert room.rest_hum_hz is None
    # a sine of 1/1000 is 63 dB under full scale as RMS, the hiss adds a thousandth of that
    assert close.rest_noise_dbfs == pytest.approx(-63.0, abs=0.2)
    assert (close.rest_hum_hz, close.rest_hum_dbfs) == (50, pytest.approx(-63.0, abs=0.3))
    assert close.copy_share is not None
    assert close.copy_share < 0.5  # driven hard


@needs_samples()
def test_a_witness_that_was_never_written_says_so_and_costs_no_measure(
    worker: Worker, tmp_path: Path
) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=3.0, seed=3)
    paths = recorded(tmp_path, {"close": phrase(rate=RATE, seconds=3.0, seed=3)})
    asked = follow_of([Path(paths["close"])], di)
    missing = str(tmp_path / "witness.wav")
    worker.follow(msgspec.structs.replace(asked, witness_path=missing))
    measures = worker.finish(3)
    assert measures.returns[0].frames == 3 * RATE
    assert measures.returns[0].copy_share == pytest.approx(1.0, abs=0.01)  # a wire
    assert measures.witness is not None
    assert measures.witness.delay_frames is None
    assert "digital silence" in str(measures.witness.reason)


# ------------------------------------------------------------------ faults


def test_a_killed_worker_is_one_sentence_and_the_next_question_finds_another(
    worker: Worker, tmp_path: Path
) -> None:
    worker.make_clicks(tmp_path / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    first = pid_of(worker)
    os.kill(first, signal.SIGKILL)
    with pytest.raises(DeviceError, match="ended by itself") as told:
        worker.inspect(tmp_path / "c.wav")
    assert "\n" not in str(told.value)
    assert worker.inspect(tmp_path / "c.wav").sample_rate == RATE
    assert pid_of(worker) != first


@pytest.mark.slow
def test_a_worker_that_hangs_is_ended_and_replaced(worker: Worker, tmp_path: Path) -> None:
    worker.make_clicks(tmp_path / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    hanging = pid_of(worker)
    os.kill(hanging, signal.SIGSTOP)
    with pytest.raises(DeviceError, match=r"no answer to Inspect within 0\.2 s"):
        worker.inspect(tmp_path / "c.wav", timeout_s=0.2)
    with pytest.raises(ProcessLookupError):
        os.kill(hanging, 0)
    assert worker.inspect(tmp_path / "c.wav").sample_rate == RATE


def test_a_worker_is_deaf_to_ctrl_c_and_in_a_group_of_its_own(
    worker: Worker, tmp_path: Path
) -> None:
    worker.make_clicks(tmp_path / "c.wav", sample_rate=RATE, level_dbfs=-20.0, clicks=2)
    assert os.getpgid(pid_of(worker)) == pid_of(worker) != os.getpgid(0)
    os.kill(pid_of(worker), signal.SIGINT)
    assert worker.inspect(tmp_path / "c.wav").sample_rate == RATE


@needs_samples()
def test_closing_ends_the_process_even_while_it_follows(tmp_path: Path) -> None:
    di = write_phrase(tmp_path / "di.wav", rate=RATE, seconds=1.0, seed=3)
    with Worker() as worker:
        worker.follow(follow_of([tmp_path / "never.wav"], di))
        pid = pid_of(worker)
        began = time.monotonic()
    # the bound that `close` promises; a machine under load gets a second more
    assert time.monotonic() - began < 3.0
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_several_threads_take_turns_and_each_gets_its_own_answer(
    worker: Worker, tmp_path: Path
) -> None:
    paths = []
    for k in range(4):
        paths.append(tmp_path / f"{k}.wav")
        soundfile.write(paths[k], np.full(1000 + k, 0.1), RATE, "PCM_24")
    got: dict[int, int] = {}

    def ask(k: int) -> None:
        for _ in range(5):
            got[k] = worker.inspect(paths[k]).frames

    threads = [threading.Thread(target=ask, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == {k: 1000 + k for k in range(4)}


# ------------------------------------------------------------------ the process by itself


def talk(lines: bytes, *, code: str = "from audio.work.process import main; main()") -> bytes:
    ran = subprocess.run(
        [sys.executable, "-c", code], input=lines, capture_output=True, timeout=60, check=True
    )
    return ran.stdout


def test_a_line_that_is_no_request_gets_an_answer_and_the_next_one_is_met(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.full(10, 0.1), RATE, "PCM_24")
    good = encode(Envelope(number=5, asked=Inspect(path=str(tmp_path / "a.wav"))))
    replies = [decode_reply(line) for line in talk(b"nonsense\n" + good).splitlines()]
    assert [reply.number for reply in replies] == [-1, 5]


def test_what_a_library_prints_does_not_reach_the_answers(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.full(10, 0.1), RATE, "PCM_24")
    code = (
        "import os\n"
        "from audio.work import process\n"
        "inspect = process.inspect\n"
        "def chatty(*a, **k):\n"
        "    os.write(1, b'a C library speaks\\n'); print('so does Python', flush=True)\n"
        "    return inspect(*a, **k)\n"
        "process.inspect = chatty\n"
        "process.main()\n"
    )
    question = encode(Envelope(number=1, asked=Inspect(path=str(tmp_path / "a.wav"))))
    (line,) = talk(question, code=code).splitlines()
    assert isinstance(decode_reply(line), Reply)


def test_the_client_loads_no_arithmetic() -> None:
    heavy = "('numpy', 'scipy', 'soundfile', 'pyloudnorm', 'sounddevice')"
    code = f"import sys, audio.work.client; print([m for m in {heavy} if m in sys.modules])"
    assert talk(b"", code=code).strip() == b"[]"


def test_a_worker_whose_answers_nobody_reads_leaves_in_the_middle_of_one() -> None:
    code = (
        "import time\n"
        "from audio.work import process\n"
        "process.inspect = lambda *a, **k: print('busy', flush=True) or time.sleep(600)\n"
        "process.main()\n"
    )
    question = encode(Envelope(number=1, asked=Inspect(path="long.wav")))
    with subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as ran:
        assert ran.stdin
        assert ran.stdout
        assert ran.stderr
        ran.stdin.write(question)
        ran.stdin.flush()
        assert ran.stderr.readline() == b"busy\n"
        ran.stdout.close()  # as the system does for a face that was killed
        assert ran.wait(20) == 0
