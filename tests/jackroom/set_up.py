"""`secondpass set` run against the room of a state, and what it should be called."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from playing import write_phrase

from jackroom.rig import JackRoom
from jackroom.states import CLOSE, DI, FAR, WITNESS, State

COMMAND = Path(sys.executable).with_name("secondpass")


class Desk:
    """One engineer's session in a room in some state."""

    def __init__(self, folder: Path, room: JackRoom) -> None:
        self.room = room
        self.session = folder / "session"
        wiring = folder / "wiring.yaml"
        wiring.write_text(
            room.wiring_text(
                returns=[{"name": "close", "input": CLOSE}, {"name": "far", "input": FAR}],
                reference="close",
                witness={"input": WITNESS},
            )
        )
        di = write_phrase(folder / "riff.wav", rate=room.rate, seconds=3.0, seed=3)
        self._run("new", str(self.session), "--di", str(di), "--wiring", str(wiring))

    def set(self, *steps: str, **told: str) -> dict[str, dict[str, Any]]:
        """Measure some steps; return their outcomes, by step."""
        words = [word for step in steps for word in ("--step", step)]
        words += [w for name, word in told.items() for w in (f"--{name.replace('_', '-')}", word)]
        said = self._run("set", str(self.session), *words, "--json")
        return {one["step"]: one["outcome"] for one in said["steps"]}

    def _run(self, *words: str) -> dict[str, Any]:
        done = subprocess.run(
            [COMMAND, *words],
            env=self.room.env,
            capture_output=True,
            text=True,
            timeout=180,
            check=False,
        )
        assert done.returncode in (0, 1), done.stderr
        return json.loads(done.stdout) if "--json" in words else {}


def codes(outcomes: dict[str, dict[str, Any]]) -> set[str]:
    """Return what weighs more than a word in passing."""
    found = [f for one in outcomes.values() for f in one["findings"] if f["weight"] != "good"]
    return {one["code"] for one in found}


NAMED: dict[State, set[str]] = {
    "right": set(),
    "hum at 50": {"hum"},
    "hum at 60": {"hum"},
    "leak": {"only-leak", "send-leaks", "send-astray"},
    "wrong input": {"wrong-input"},
    "inverted microphone": {"pair-inverted"},
    "dead microphone": {"return-silent", "input-dead"},
}

SENDS: dict[State, float] = {"right": 0.0, "send 6 dB hot": 6.0, "one leg dead": -6.02}
"""What the amp sees over what the guitar gave, dB."""


def called(outcomes: dict[str, dict[str, Any]]) -> str:
    """Return the state that the findings of wire, silence and polarity name, several joined."""
    found = codes(outcomes) | {f["code"] for f in outcomes["polarity"]["findings"]}
    names = [
        state
        for state, named in NAMED.items()
        if found & named and (state[-2:] in outcomes["silence"]["summary"] or "hum" not in state)
    ]
    return " + ".join(names) or ("something else" if codes(outcomes) else "right")


def sent(desk: Desk) -> dict[str, Any]:
    """Patch the box into the DI input and measure the send level; return its outcome."""
    desk.room.patch("box to DI input")
    told = {"di_input": str(DI), "unmoved": "yes", "cable": "jack to jack"}
    return desk.set("send-level", **told)["send level"]
