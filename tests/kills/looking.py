"""What must hold of a session after one of the program's processes was killed in mid-pass.

Judged with Python's own readers and libsndfile, against a pass that nobody disturbed: in a room without
noise two passes of one DI are the same to the bit.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import soundfile

DATA_AT = 4096
_FLEETING = re.compile(r"\.tmp$|\.reserved$|\.lock$|/socket$")


@dataclass
class Found:
    """What does not hold, in words, and how many frames are gone."""

    wrong: list[str] = field(default_factory=list)
    frames_lost: int = 0

    def claim(self, holds: bool, otherwise: str) -> None:
        if not holds:
            self.wrong.append(otherwise)


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a session that is meant to stay, by its path within it."""
    return {
        name: path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not _FLEETING.search(name := path.relative_to(folder).as_posix())
    }


def frame_bytes(path: Path) -> int:
    """Return the bytes of a frame, by another reader than ours."""
    info = soundfile.info(path)
    return int(info.channels * {"PCM_24": 3, "FLOAT": 4}[info.subtype])


def sound(content: bytes, frame: int) -> bytes:
    """Return the whole frames in a capture's content."""
    audio = content[DATA_AT:]
    return audio[: len(audio) // frame * frame]


def kind_of(name: str) -> str:
    """Return which capture of a pass a file is, whatever its number."""
    return re.sub(r"_\d{3}_", "_", Path(name).name)


def compare(found: Found, before: dict[str, bytes], after: dict[str, bytes], folder: Path) -> None:
    """Hold what was there when the process died against what is there now."""
    for name, content in before.items():
        now = after.get(name)
        if now is None:
            found.claim(False, f"{name} is gone")
        elif name == "journal.jsonl":
            whole = content[: content.rfind(b"\n") + 1]
            found.claim(now.startswith(whole), f"{name} was changed")
        elif name.endswith(".wav") and name.startswith("passes/"):
            _compare_capture(found, name, content, now, folder)
        elif not name.endswith("order.json"):
            found.claim(now == content, f"{name} was changed")


def _compare_capture(found: Found, name: str, before: bytes, now: bytes, folder: Path) -> None:
    if len(before) <= DATA_AT:
        return
    try:
        frames, frame = soundfile.info(folder / name).frames, frame_bytes(folder / name)
    except soundfile.LibsndfileError:
        found.frames_lost += len(before) - DATA_AT
        found.claim(False, f"{name} cannot be read")
        return
    had = sound(before, frame)
    found.claim(sound(now, frame)[: len(had)] == had, f"{name} holds other sound than it did")
    lost = len(had) // frame - frames
    if lost > 0:
        found.frames_lost += lost
        found.claim(False, f"{name} shows {frames} of {len(had) // frame} frames")


def true_to(found: Found, folder: Path, truth: dict[str, bytes], number: int) -> None:
    """Hold what one pass recorded of the DI against an undisturbed pass, to the bit."""
    for path in sorted((folder / "passes" / "riff" / f"{number:03d}").glob("*.wav")):
        if path.name.endswith("-click.wav") or path.stat().st_size <= DATA_AT:
            continue
        try:
            had = soundfile.info(path).frames * frame_bytes(path)
        except soundfile.LibsndfileError:
            found.claim(False, f"{path.name} cannot be read")
            continue
        meant, given = truth[kind_of(path.name)], path.read_bytes()
        same = meant[DATA_AT : DATA_AT + had] == given[DATA_AT : DATA_AT + had]
        found.claim(same, f"{path.name} is not what the room gave")


def json_of(content: bytes | None) -> dict[str, Any] | None:
    """Return a JSON object, None where there is none or it is torn."""
    try:
        value = json.loads(content or b"")
    except ValueError:
        return None
    return value if isinstance(value, dict) else None
