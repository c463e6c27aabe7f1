"""The PortAudio device over a real server: what it finds, refuses, and notices."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable

import msgspec
import pytest
from conformance import JACK_PATHS, PROBE, environment, jack_wiring, run
from device_probe import Ask, Told
from jackroom.rig import JackRoom, pause
from jackroom.server import end
from msgspec.structs import replace
from needs import needs_jack

from audio.vocab.devices import DeviceList
from audio.vocab.wiring import PortAudioDevice, Wiring

pytestmark = [needs_jack(), pytest.mark.slow]

Rooms = Callable[..., JackRoom]


def refused(wiring: Wiring, env: dict[str, str]) -> Told:
    told = run(Ask(wiring=wiring), env=env).told
    assert told.error
    assert "\n" not in told.sentence
    return told


def named(wiring: Wiring, *, host: str = "JACK Audio Connection Kit", name: str) -> Wiring:
    return replace(wiring, device=PortAudioDevice(host=host, name=name))


def listing(env: dict[str, str]) -> DeviceList:
    done = subprocess.run(
        [sys.executable, "-m", "audio.device.listing"], env=env, capture_output=True, check=True
    )
    assert done.stderr == b""
    return msgspec.json.decode(done.stdout, type=DeviceList)


# ---------------------------------------------------------------------- finding and refusing


def test_the_list_names_the_room_with_its_channels_and_rate(jack_room: Rooms) -> None:
    room = jack_room(rate=44100, period=512, paths=JACK_PATHS, name="amp room 2")
    found = [d for d in listing(room.env).devices if d.name == "amp room 2"]
    assert len(found) == 1
    assert found[0].host == "JACK Audio Connection Kit"
    assert (found[0].inputs, found[0].outputs) == (4, 4)
    assert found[0].default_rate == 44100.0
    assert found[0].full_duplex


def test_what_is_not_there_is_refused_with_what_is(jack_room: Rooms) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    wiring = jack_wiring(48000)
    told = refused(named(wiring, name="reamp"), room.env)
    assert told.error == "UseError"
    assert "'reamp'" in told.sentence
    assert "'reamp-room'" in told.sentence
    told = refused(named(wiring, host="Jacques", name="reamp-room"), room.env)
    assert told.error == "UseError"
    assert "'Jacques'" in told.sentence
    assert "JACK Audio Connection Kit" in told.sentence
    told = refused(replace(wiring, sample_rate=96000), room.env)
    assert told.error == "UseError"
    assert re.search(r"96000 Hz.*48000 Hz", told.sentence)


def test_a_name_in_another_case_is_found_when_only_one_fits(jack_room: Rooms) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    wiring = named(jack_wiring(48000), host="jack audio connection kit", name="Reamp-Room")
    assert run(Ask(wiring=wiring, blocks=2), env=room.env).told.when_s


def test_a_device_that_only_records_is_refused_because_of_the_second_clock(
    jack_room: Rooms,
) -> None:
    room = jack_room(rate=48000, period=512, paths=(), outputs=0, name="microphones")
    told = refused(named(jack_wiring(48000), name="microphones"), room.env)
    assert told.error == "UseError"
    assert "only records" in told.sentence
    assert "two clocks" in told.sentence


def test_without_a_server_one_sentence_names_the_package() -> None:
    env = environment(None) | {"JACK_DEFAULT_SERVER": "nobody", "JACK_NO_START_SERVER": "1"}
    told = refused(jack_wiring(48000), env)
    assert told.error == "DeviceError"
    assert "no JACK server answers" in told.sentence
    assert "jackd2" in told.sentence


def test_without_the_library_one_sentence_names_the_package() -> None:
    # The system's loader is asked for the library under a name; here it knows none.
    code = (
        "import ctypes.util, runpy; ctypes.util.find_library = lambda name: None; "
        "runpy.run_module('audio.device.listing', run_name='__main__')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(None), capture_output=True, check=True
    )
    told = json.loads(done.stdout)
    assert told["devices"] == []
    assert "libportaudio2" in told["reason"]
    assert done.stderr == b""


# ---------------------------------------------------------------------- while it runs


class Running:
    """A probe at work: it has said that it is rolling, or is held after its last block."""

    def __init__(self, ask: Ask, env: dict[str, str], arrays: os.PathLike[str]) -> None:
        text = msgspec.json.encode(ask).decode()
        self.process = subprocess.Popen(
            [sys.executable, PROBE, text, arrays],
            env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        if said not in {"rolling\n", "running\n"}:
            end(self.process)
            pytest.fail(f"the device did not run: {said}")

    def finish(self) -> Told:
        text, _ = self.process.communicate("\n", timeout=30)
        assert self.process.returncode == 0
        return msgspec.json.decode(text, type=Told)


@pytest.mark.parametrize("period", [256, 1024])
def test_a_period_that_changes_ends_the_stream_and_says_so(
    jack_room: Rooms, tmp_path: os.PathLike[str], period: int
) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    ask = Ask(wiring=jack_wiring(48000), blocks=4, wait_for_line=True)
    probe = Running(ask, room.env, tmp_path / "arrays.npz")
    room.change_period(period)
    told = probe.finish()
    assert told.alive_at_end is False
    assert told.failure is not None
    assert f"from 512 to {period} frames" in told.failure


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("unplug capture_2", "'reamp-room:capture_2' is not connected to input 2 any more"),
        ("plug system:capture_1 reamp-room:playback_3", "now connected to 'reamp-room:playback_3'"),
        ("vanish capture_1 capture_2", "'reamp-room' left the audio server, or took ports away"),
    ],
)
def test_a_patch_that_changes_under_the_stream_is_noticed_and_named(
    jack_room: Rooms, tmp_path: os.PathLike[str], words: str, said: str
) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    ask = Ask(wiring=jack_wiring(48000), blocks=4, wait_for_line=True)
    probe = Running(ask, room.env, tmp_path / "arrays.npz")
    room.tell(*words.split())
    told = probe.finish()
    assert told.alive_running is True
    assert told.alive_at_end is False
    assert told.failure is not None
    assert said in told.failure


def test_a_server_that_dies_leaves_a_device_that_is_not_alive(
    jack_room: Rooms, tmp_path: os.PathLike[str]
) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    ask = Ask(wiring=jack_wiring(48000), blocks=4, wait_for_line=True, close=False)
    probe = Running(ask, room.env, tmp_path / "arrays.npz")
    room.kill_server()
    assert probe.finish().alive_at_end is False


def test_the_period_of_the_server_rules_whatever_the_wiring_says(jack_room: Rooms) -> None:
    room = jack_room(rate=48000, period=256, paths=JACK_PATHS)
    wiring = replace(jack_wiring(48000), block_frames=512)
    assert run(Ask(wiring=wiring, blocks=4), env=room.env).told.block_frames == 256


def test_a_process_that_was_stalled_is_flagged(
    jack_room: Rooms, tmp_path: os.PathLike[str]
) -> None:
    room = jack_room(rate=48000, period=512, paths=JACK_PATHS)
    ask = Ask(wiring=jack_wiring(48000), blocks=100, tell_start=True)
    probe = Running(ask, room.env, tmp_path / "arrays.npz")
    pause(probe.process.pid, 0.1)
    assert any(probe.finish().flags)


# ---------------------------------------------------------------------- nothing is left behind


def test_a_killed_test_run_leaves_no_server_behind() -> None:
    code = (
        "import os, signal\n"
        "from jackroom.rig import jack_room\n"
        "with jack_room(rate=48000, period=512, paths=()) as room:\n"
        "    print(room.server_process.pid, room.room_process.pid, flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    killed = subprocess.run(
        [sys.executable, "-c", code],
        env=environment(None),
        capture_output=True,
        text=True,
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL
    for pid in map(int, killed.stdout.split()):
        gone = subprocess.run(
            ["timeout", "5", "tail", f"--pid={pid}", "-f", "/dev/null"], check=False
        )
        assert gone.returncode == 0, f"process {pid} is still there"
