"""A cue over a real audio server: a wire from the first listen output records what people hear.

The room's wires return both outputs bit for bit, so backing track and send can be told apart to the frame.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest
import soundfile
from jackroom.rig import JackRoom
from jackroom.spec import Path
from needs import needs_jack, needs_samples
from playing import write_phrase

pytestmark = [needs_jack(), needs_samples(), pytest.mark.slow]

COMMAND = FilePath(sys.executable).with_name("secondpass")
RATE = 48_000
LISTEN, SEND = 1, 3
HEARD, CLOSE = 4, 2
DELAY = 100
GAIN_DB = -6.0
TRIES = 3


class Desk:
    """A session whose second return is a wire from the first listen output."""

    def __init__(self, folder: FilePath, room: JackRoom) -> None:
        self.folder, self.room = folder, room
        wiring = room.wiring_text(
            returns=[{"name": "close", "input": CLOSE}, {"name": "heard", "input": HEARD}],
            reference="close",
            listen={"outputs": [LISTEN, 2]},
            cue={"backing_db": GAIN_DB, "count_in_bars": 1},
        )
        (folder / "wiring.yaml").write_text(wiring)
        write_phrase(folder / "riff.wav", rate=RATE, seconds=2.0, seed=31)
        write_phrase(folder / "band.wav", rate=RATE, seconds=1.5, seed=32)
        self.run("new", "night", "--di", "riff.wav", "--wiring", "wiring.yaml", "--bpm", "240")
        self.run("add", "night", "--backing", "band.wav")

    def run(self, *words: str) -> dict[str, Any]:
        done = subprocess.run(
            [COMMAND, *words, "--json"], env=self.room.env, cwd=self.folder,
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        assert done.returncode in (0, 1), done.stderr
        answer: dict[str, Any] = json.loads(done.stdout)
        return answer

    def passed(self) -> dict[str, Any]:
        """Run a pass in which the server lost nothing; that is the machine's affair, not the cue's."""
        for _ in range(TRIES):
            variant = self.run("pass", "night", "--part", "riff", "--chain", "plain")
            if not variant["dropouts"]:
                return variant
        pytest.fail(f"the server dropped blocks in each of {TRIES} passes")

    def recorded(self, variant: dict[str, Any], name: str) -> np.ndarray:
        (file,) = [one for one in variant["files"] if one["return"] == name]
        return soundfile.read(self.folder / "night" / file["path"], dtype="int32")[0] >> 8


def test_the_backing_is_heard_on_the_di_s_frames_and_nothing_of_it_is_sent(
    tmp_path: FilePath, jack_room: Callable[..., JackRoom]
) -> None:
    wires = (
        Path(output=SEND, input=CLOSE, delay_frames=DELAY),
        Path(output=LISTEN, input=HEARD, delay_frames=DELAY),
    )
    desk = Desk(tmp_path, jack_room(rate=RATE, period=512, paths=wires))
    variant = desk.passed()
    assert variant["shift_frames"] == desk.room.round_trip(CLOSE)
    sent = soundfile.read(tmp_path / "riff.wav", dtype="int32")[0] >> 8
    back = desk.recorded(variant, "close")
    np.testing.assert_array_equal(back[: len(sent)], sent)
    assert not back[len(sent) :].any()

    band = soundfile.read(tmp_path / "band.wav")[0] * 10.0 ** (GAIN_DB / 20.0) * 2**23
    heard = desk.recorded(variant, "heard")
    assert np.abs(heard[: len(band)] - band).max() <= 1.0, (
        "one code: floats all the way, then 24 bits"
    )
    assert not heard[len(band) :].any()
    assert np.abs(heard).max() > 100_000
