"""The engine as a process of its own: its pipe, its end, and what a dead face leaves behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio.engine.client import Engine
from audio.files.platform import memory_folder
from audio.vocab.children import command
from audio.vocab.errors import DeviceError
from audio.vocab.messages import (
    Capture,
    Counters,
    Ended,
    Event,
    Fault,
    Open,
    Opened,
    Patch,
    Refused,
    Report,
    Roll,
    Source,
    Started,
    Stop,
    decode_event,
)
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring

RATE = 48_000


def wiring(**device: object) -> Wiring:
    plain = {
        "pace": "free",
        "inputs": 4,
        "outputs": 4,
        "amp": Amp(clean=True),
        "microphones": (Microphone(input=2, cabinet="none", gain_db=0.0, distance_cm=0.0),),
        "noise_dbfs": -150.0,
        "converter_frames": 100.0,
    }
    return Wiring(
        name="test",
        device=SimulatedDevice(**(plain | device)),  # type: ignore[arg-type]
        sample_rate=RATE,
        send_output=3,
        returns=(Return(name="close", input=2),),
        reference="close",
    )


def until(engine: Engine, kind: type[Event], limit_s: float = 30.0) -> Event:
    """Return the first event of a kind; others on the way are passed over."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        event = engine.event(0.5)
        if isinstance(event, kind):
            return event
    raise AssertionError(f"no {kind.__name__} within {limit_s} s")


def opened(engine: Engine, **device: object) -> Opened:
    engine.send(Open(wiring=wiring(**device)))
    event = until(engine, Opened)
    assert isinstance(event, Opened)
    return event


def di(path: Path, *, seconds: float = 2.0) -> str:
    samples = np.random.default_rng(2).uniform(-0.5, 0.5, int(seconds * RATE))
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return str(path)


def roll(folder: Path, *, seconds: float = 2.0, record: bool = True) -> Roll:
    source = Source(
        path=di(folder / "di.wav", seconds=seconds), outputs=((2, 1.0),), reaches_send=True
    )
    return Roll(
        roll_id=7,
        sources=(source,),
        captures=(Capture(path=str(folder / "back.wav"), inputs=(1,)),),
        length_frames=int((seconds + 0.5) * RATE),
        record=str(folder / "roll.json") if record else None,
        lock=str(folder / "lock"),
    )


def wait_for(what: Callable[[], bool], limit_s: float = 20.0) -> None:
    end = time.monotonic() + limit_s
    while not what():
        assert time.monotonic() < end, "waited too long"
        os.sched_yield()


def gone(pid: int) -> bool:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return True
    return stat.rpartition(")")[2].split()[0] == "Z"


def test_a_roll_through_the_process_comes_back_bit_for_bit(tmp_path: Path) -> None:
    with Engine() as engine:
        opened(engine)
        engine.send(roll(tmp_path))
        assert until(engine, Started)
        ended = until(engine, Ended)
    assert isinstance(ended, Ended)
    assert ended.reason == "complete"
    assert ended.dropouts == ()
    sent = soundfile.read(tmp_path / "di.wav", dtype="int32")[0]
    back = soundfile.read(tmp_path / "back.wav", dtype="int32")[0]
    offset = int(np.flatnonzero(back)[0] - np.flatnonzero(sent)[0])
    np.testing.assert_array_equal(back[offset : offset + len(sent)], sent)
    assert decode_event((tmp_path / "roll.json").read_bytes()) == ended


def test_a_patch_told_to_the_engine_reaches_the_room(tmp_path: Path) -> None:
    heard = []
    with Engine() as engine:
        opened(engine)
        for patch in ("box to DI input", "amp"):
            engine.send(Patch(patch=patch))
            (tmp_path / patch).mkdir()
            engine.send(roll(tmp_path / patch, seconds=0.5))
            ended = until(engine, Ended)
            assert isinstance(ended, Ended)
            heard.append(ended.recorded[0].peak[0])
    assert heard == [0.0, pytest.approx(0.5, abs=0.02)]


@pytest.mark.slow
def test_the_status_block_moves_while_a_roll_runs(tmp_path: Path) -> None:
    with Engine() as engine:
        opened(engine, pace="clock")
        engine.send(roll(tmp_path, seconds=1.0))
        until(engine, Started)
        seen = []
        while not isinstance(engine.event(0.02), Ended):
            status = engine.status()
            if status is not None and status.roll_id == 7:
                seen.append(status)
    frames = [s.roll_frame for s in seen]
    assert frames == sorted(frames)
    assert len(set(frames)) > 10
    assert max(s.outputs.peak[2] for s in seen) == pytest.approx(0.5, abs=0.02)
    assert max(s.inputs.held[1] for s in seen) == pytest.approx(0.5, abs=0.02)
    assert seen[-1].outputs.peak[0] == 0.0


def test_a_second_roll_waits_for_the_first(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with Engine() as engine:
        opened(engine)
        engine.send(roll(tmp_path / "a"))
        engine.send(Roll(roll_id=8, length_frames=RATE))
        first, second = until(engine, Ended), until(engine, Ended)
    assert isinstance(first, Ended)
    assert isinstance(second, Ended)
    assert (first.roll_id, second.roll_id) == (7, 8)
    assert second.stream_frame >= first.stream_frame + first.frames


def test_stop_ends_the_roll_and_drops_what_waits(tmp_path: Path) -> None:
    with Engine() as engine:
        opened(engine, pace="clock")
        engine.send(roll(tmp_path, seconds=30.0))
        engine.send(Roll(roll_id=8, length_frames=RATE))
        until(engine, Started)
        engine.send(Stop())
        ended = until(engine, Ended)
        assert isinstance(ended, Ended)
        assert ended.reason == "stopped"
        engine.send(Report())
        assert isinstance(until(engine, Counters), Counters)
    assert soundfile.info(tmp_path / "back.wav").frames == ended.frames


def test_a_refused_roll_leaves_the_stream_ready(tmp_path: Path) -> None:
    with Engine() as engine:
        opened(engine)
        engine.send(Roll(roll_id=3, length_frames=10, sources=(Source(path="/nowhere.wav"),)))
        refused = until(engine, Refused)
        assert isinstance(refused, Refused)
        assert refused.roll_id == 3
        assert refused.use
        engine.send(roll(tmp_path))
        assert isinstance(until(engine, Ended), Ended)


def test_something_else_on_the_pipe_is_refused_and_changes_nothing() -> None:
    engine = subprocess.Popen(
        command("audio.engine.process"), stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    answer, _ = engine.communicate(b'{"say":"Dance"}\nnot json\n', timeout=30)
    events = [decode_event(line) for line in answer.splitlines()]
    assert [type(e).__name__ for e in events] == ["Ready", "Refused", "Refused"]
    assert engine.returncode == 0


def _face(folder: Path, *, record: bool) -> subprocess.Popen[bytes]:
    """Start a face of its own that opens, rolls four seconds by the clock, and waits."""
    script = (
        "import sys, time\n"
        f"sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from pathlib import Path\n"
        "from test_process import opened, roll, until, Started, Engine\n"
        "engine = Engine()\n"
        "opened(engine, pace='clock')\n"
        f"engine.send(roll(Path({str(folder)!r}), seconds=3.0, record={record}))\n"
        "until(engine, Started)\n"
        "print(engine.pid, flush=True)\n"
        "time.sleep(60)\n"
    )
    return subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE)


@pytest.mark.slow
def test_an_engine_whose_face_was_killed_finishes_the_pass_and_leaves(tmp_path: Path) -> None:
    face = _face(tmp_path, record=True)
    assert face.stdout is not None
    pid = int(face.stdout.readline())
    face.send_signal(signal.SIGKILL)
    face.wait()
    wait_for(lambda: gone(pid))
    ended = decode_event((tmp_path / "roll.json").read_bytes())
    assert isinstance(ended, Ended)
    assert ended.reason == "complete"
    assert soundfile.info(tmp_path / "back.wav").frames == ended.frames == int(3.5 * RATE)
    face.stdout.close()


def test_an_engine_whose_face_was_killed_stops_what_keeps_no_record(tmp_path: Path) -> None:
    face = _face(tmp_path, record=False)
    assert face.stdout is not None
    pid = int(face.stdout.readline())
    face.send_signal(signal.SIGKILL)
    face.wait()
    wait_for(lambda: gone(pid))
    assert soundfile.info(tmp_path / "back.wav").frames < int(3.5 * RATE)
    face.stdout.close()


def test_a_killed_engine_is_noticed_and_its_audio_is_on_disk(tmp_path: Path) -> None:
    engine = Engine()
    opened(engine, pace="clock")
    engine.send(roll(tmp_path, seconds=30.0))
    until(engine, Started)
    capture = tmp_path / "back.wav"
    wait_for(lambda: capture.stat().st_size > 4096 + 3 * RATE // 2)
    os.kill(engine.pid, signal.SIGKILL)
    with pytest.raises(DeviceError, match="kept"):
        until(engine, Fault)
    engine.close()
    assert capture.stat().st_size > 4096 + 3 * RATE // 2


def test_an_engine_has_no_file_of_its_own_that_a_kill_could_leave() -> None:
    with Engine() as engine:
        opened(engine, pace="clock")
        wait_for(lambda: engine.status() is not None)
        mapped = Path(f"/proc/{engine.pid}/maps").read_text().splitlines()
        (status,) = [line for line in mapped if "secondpass-engine-" in line]
        assert status.endswith("(deleted)")
        name = status.split("secondpass-engine-")[1].split("/")[0]
        assert not (memory_folder() / f"secondpass-engine-{name}").exists()


def test_a_device_that_goes_away_is_noticed_and_the_roll_is_closed(tmp_path: Path) -> None:
    with Engine() as engine:
        opened(engine, pace="clock", faults=({"kind": "disappear", "at_s": 1.0},))
        engine.send(roll(tmp_path, seconds=30.0))
        fault = until(engine, Fault)
        assert isinstance(fault, Fault)
        assert "device" in fault.reason
        ended = until(engine, Ended)
        assert isinstance(ended, Ended)
        assert ended.reason == "device"
    assert soundfile.info(tmp_path / "back.wav").frames == ended.frames > RATE // 2
    assert gone(engine.pid)


def test_the_engine_never_loads_the_face_nor_what_measures() -> None:
    script = (
        "import sys, audio.engine.process\n"
        "bad = [m for m in sys.modules if m.split('.')[0] in ('tui', 'textual', 'pyloudnorm')"
        " or m.startswith(('audio.measure', 'audio.verdict', 'audio.session'))]\n"
        "print(bad)"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "[]"
