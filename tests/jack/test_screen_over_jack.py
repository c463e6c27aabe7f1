"""The screen over a real audio server, in a real terminal, by keys alone; judged by others' tools.

JACK's dummy driver, real processes, real PortAudio, a room client with known truth behind it. The files are
read by sox (soxi), ffprobe and libsndfile, and placed here by plain correlation: the room's paths are
plain, so their true delay is all there is to find. Dropouts belong to the machine: a pass that had some
must not be called good and is played again, at most twice.
"""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest
import soundfile
import yaml
from accidents import wait_for
from jackroom.rig import JackRoom
from jackroom.spec import Path
from keys_alone import all_set, name_chain, press_go, see_evidence, see_verdict
from needs import needs_jack, needs_program, needs_samples
from numpy.typing import NDArray
from playing import write_phrase
from scipy.signal import correlate
from terminal import COMMAND, Terminal, terminal

pytestmark = [
    pytest.mark.slow,
    needs_jack(),
    needs_samples(),
    needs_program("tmux", package="tmux"),
    needs_program("soxi", package="sox"),
    needs_program("ffprobe", package="ffmpeg"),
]

RATE = 48_000
SECONDS = 3.0
TIME_STAMP = 3600 * RATE + 1234
"""An hour and a bit after midnight: where the DI lay in the session it was edited in."""

DELAYS = {2: 301.4, 3: 705.9}
"""Of the way to each input, frames."""

PLACED_WITHIN = 1.0
RERUNS = 2


class Room:
    """A terminal beside a room, and a session in it."""

    def __init__(self, folder: FilePath, jack: JackRoom, one: Terminal) -> None:
        self.folder = folder
        self.jack = jack
        self.one = one
        self.session = folder / "tonight"
        self.di = _stamped_di(folder)

    def new(self, *more: str) -> None:
        words = ["new", self.session, "--di", self.di, "--bpm", "96", *more]
        done = subprocess.run(
            [COMMAND, *words], env=self.jack.env, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr

    def newest(self) -> dict[str, Any]:
        path = max((self.session / "passes" / "riff").iterdir()) / "variant.json"
        wait_for(path.exists, "the pass was not judged")
        value: dict[str, Any] = json.loads(path.read_text())
        return value

    def start_pass(self, chain: str) -> None:
        """Start a pass; on a busy machine the server's timer runs slow, which must be refused in words."""
        for _ in range(1 + RERUNS):
            shown = press_go(self.one, chain)
            if "ROLLING" in shown:
                return
            assert "wrong clock source" in shown, shown
            print("rerun: the server ran too slowly to be taken for a clock")
            self.one.press("Escape")
        pytest.fail(f"the server ran too slowly {1 + RERUNS} times")

    def good_pass(self, chain: str) -> dict[str, Any]:
        """Play until the server loses nothing; what it disturbed must not be called good."""
        for _ in range(1 + RERUNS):
            self.start_pass(chain)
            see_verdict(self.one)
            variant = self.newest()
            if not variant["dropouts"]:
                return variant
            assert variant["verdict"] != "good"
            print(f"rerun: the server dropped blocks: {variant['dropouts']}")
        pytest.fail(f"the server dropped blocks in each of {1 + RERUNS} passes")


def _stamped_di(folder: FilePath) -> FilePath:
    """Write a phrase and let ffmpeg stamp it, as an editor would on export."""
    plain = write_phrase(folder / "plain.wav", rate=RATE, seconds=SECONDS, seed=1)
    stamped = folder / "riff.wav"
    stamp = ["-write_bext", "1", "-metadata", f"time_reference={TIME_STAMP}"]
    command = ["ffmpeg", "-v", "error", "-i", plain, "-c:a", "pcm_s24le", *stamp, stamped]
    subprocess.run(command, check=True)
    return stamped


@pytest.fixture
def room(tmp_path: FilePath, jack_room: Callable[..., JackRoom]) -> Iterator[Room]:
    paths = tuple(
        Path(output=3, input=n, delay_frames=d, gain=0.5, noise_rms=1e-4) for n, d in DELAYS.items()
    )
    with ExitStack() as opened:
        jack = jack_room(rate=RATE, period=512, paths=paths)
        one = opened.enter_context(terminal(tmp_path, env=jack.env))
        yield Room(tmp_path, jack, one)


# ---------------------------------------------------------------- what others say of the files


def _soxi(path: FilePath, option: str) -> int:
    done = subprocess.run(["soxi", option, path], capture_output=True, text=True, check=True)
    return int(done.stdout)


def _time_stamp(path: FilePath) -> int:
    entries = ["-show_entries", "format_tags=time_reference", "-of", "json"]
    done = subprocess.run(
        ["ffprobe", "-v", "error", *entries, path], capture_output=True, text=True, check=True
    )
    return int(json.loads(done.stdout)["format"]["tags"]["time_reference"])


def _late_by(returned: NDArray[np.float64], di: NDArray[np.float64]) -> float:
    """Return how many frames the DI lies late in a return: the peak of the correlation, by a parabola."""
    curve = np.abs(correlate(returned[: len(di)], di, method="fft"))
    at = int(np.argmax(curve))
    left, peak, right = curve[at - 1 : at + 2]
    return at - (len(di) - 1) + float(0.5 * (left - right) / (left - 2 * peak + right))


def assert_files_are_true(room: Room, variant: dict[str, Any], inputs: dict[int, str]) -> None:
    """Claim frames, rate, time stamp and place of every file of a variant, by other tools than ours."""
    di, _ = soundfile.read(room.di)
    assert [one["input"] for one in variant["files"]] == list(inputs)
    reference = next(iter(inputs))
    for one in variant["files"]:
        path = room.session / one["path"]
        assert path.name == f"riff_{variant['number']:03d}_plain_{inputs[one['input']]}.wav"
        assert _soxi(path, "-s") == one["frames"] >= len(di)
        assert (_soxi(path, "-r"), _soxi(path, "-c"), _soxi(path, "-b")) == (RATE, 1, 24)
        assert _time_stamp(path) == TIME_STAMP
        back, _ = soundfile.read(path)
        apart = DELAYS[one["input"]] - DELAYS[reference]
        assert _late_by(back, di) == pytest.approx(apart, abs=PLACED_WITHIN)


# ---------------------------------------------------------------- the evening


def test_a_pass_and_its_second_terminal_by_keys_alone(room: Room, tmp_path: FilePath) -> None:
    wiring = tmp_path / "room.yaml"
    wiring.write_text(room.jack.wiring_text())
    room.new("--wiring", str(wiring))
    one = room.one
    before = one.manners()
    one.run("open", room.session)
    one.wait_for("▸send", "opens only when you say so", "o open the stream")
    one.press("o")
    one.wait_for("▸chain", "■ set")
    one.add_window("card")
    one.run("card", room.session, window="card")
    one.wait_for("nothing sounds", window="card")
    name_chain(one, "plain")
    all_set(one)

    variant = room.good_pass("plain")
    evidence = see_evidence(one)
    _, round_trip = _numbers(r"round trip (\d+\.\d+)", evidence)
    assert round_trip == pytest.approx(room.jack.round_trip(2), abs=PLACED_WITHIN)
    assert "no frame lost" in evidence
    number = variant["number"]
    one.wait_for("riff", f"pass {number:03d}", "plain", "next:", window="card")
    assert_files_are_true(room, variant, {2: "mic-2", 3: "mic-3"})

    # A second pass, stopped from the amp room.
    room.start_pass("plain")
    one.wait_for("SENDING: the amp plays", "plain", window="card")
    one.press("s", window="card")
    see_verdict(one)
    one.wait_for("nothing sounds", window="card")
    stopped = room.newest()
    assert stopped["number"] > number
    assert stopped["state"] == "stopped"
    assert all(file["frames"] < SECONDS * RATE for file in stopped["files"])

    one.press("q", window="card")
    assert one.ended("card") == 0
    one.press("q")
    assert one.ended() == 0
    assert one.manners() == before


def _numbers(pattern: str, shown: str) -> tuple[str, float]:
    found = re.search(pattern, shown)
    assert found, shown
    return found[0], float(found[1])


def test_a_wiring_chosen_on_the_screen_is_saved_and_used(room: Room) -> None:
    room.new()
    one = room.one
    one.run("open", room.session)
    one.wait_for("riff", "press w to choose the device")
    one.press("w")
    one.wait_for("what is plugged where", "JACK")
    step_to_the_room(one)
    one.press(*["Down"] * 8)  # rate, send, listen, backing, count-in, loop, in 1, in 2
    one.press("Enter", "n")
    one.wait_for("Which microphone is on input 2?")
    one.type("close")
    one.press("Enter")
    one.wait_for("reference", "close")
    one.press("Down", "Right")
    one.wait_for("mic 3")
    assert_levels_tell_who_is_plugged(one)
    one.press("w")
    one.wait_for("Save this wiring")
    one.press("Enter")
    one.wait_for("■ set", "output 3")
    assert_wiring_was_saved(room.session)

    name_chain(one, "plain")
    all_set(one)
    variant = room.good_pass("plain")
    assert_files_are_true(room, variant, {2: "close", 3: "mic-3"})
    one.press("q")
    assert one.ended() == 0


def step_to_the_room(one: Terminal) -> None:
    """Step through the devices until the room's stands there; the server offers its own, too."""
    while "reamp-room" not in (shown := _device(one.text())):
        one.press("Right")
        one.until(lambda now, was=shown: _device(now) != was, "the room is no device")


def _device(shown: str) -> str:
    return next(line for line in shown.splitlines() if "device " in line)


def assert_levels_tell_who_is_plugged(one: Terminal) -> None:
    """Claim that what is heard stands beside each input: the room's noise where it is wired, else nothing.

    White noise of 1e-4 rms is −80 dBFS; its peak lies 10 to 15 dB above that (a Gaussian exceeds five
    deviations once in 1.7 million).
    """
    one.press("o")
    one.wait_for("tap a microphone")
    level = re.compile(r"in (\d).*?(−\S+) dBFS")
    heard = dict(
        level.findall(one.until(lambda shown: len(level.findall(shown)) >= 3, "no levels"))
    )
    found = {int(n): float(value.replace("−", "-")) for n, value in heard.items()}
    assert all(-75.0 < found[n] < -60.0 for n in DELAYS)
    assert found[1] < -100.0


def assert_wiring_was_saved(session: FilePath) -> None:
    """Claim what stands in the session's files, as a YAML reader of its own finds it."""
    (saved,) = (session / "wirings").iterdir()
    wiring = yaml.safe_load(saved.read_text())
    assert wiring["device"] == {
        "kind": "portaudio", "host": "JACK Audio Connection Kit", "name": "reamp-room",
    }  # fmt: skip
    assert wiring["send"] == {"output": 3}
    assert wiring["returns"] == [{"name": "close", "input": 2}, {"name": "mic 3", "input": 3}]
    assert wiring["reference"] == "close"
    assert wiring["sample_rate"] == RATE
    named = yaml.safe_load((session / "session.yaml").read_text())["wiring"]
    assert session / named == saved
