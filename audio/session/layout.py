"""Where everything lies in a session folder; no other module joins these names."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_config_path

DI = "di"
ORIGINALS = "originals"
BACKING = "backing"
TEMPO = "tempo"
PASSES = "passes"
WIRING = "wiring.yaml"
WIRINGS = "wirings"
SETUP = "setup"
READINESS = "readiness"
SOUNDS = "sounds"
PHOTOS = "photos"

VARIANT_JSON = "variant.json"
"""In a pass folder; for who looks at thousands of them and has no time for paths."""


def session_yaml(folder: Path) -> Path:
    """Return the file of songs and parts; a folder is a session when it is there."""
    return folder / "session.yaml"


def journal(folder: Path) -> Path:
    """Return the append-only file of opinions and events."""
    return folder / "journal.jsonl"


def chains(folder: Path) -> Path:
    """Return the folder of the session's chains."""
    return folder / "chains"


def photos(folder: Path) -> Path:
    """Return the folder of photos that people put in; it need not exist."""
    return folder / PHOTOS


def own_chains() -> Path:
    """Return the folder of the user's own chains, for all sessions; it need not exist."""
    return user_config_path("secondpass") / "chains"


def plan_yaml(folder: Path) -> Path:
    """Return the file of the passes that are wanted; it need not exist."""
    return folder / "plan.yaml"


def setup(folder: Path) -> Path:
    """Return the folder of what was measured before the passes."""
    return folder / SETUP


def readiness(folder: Path) -> Path:
    """Return the folder of what was measured of DIs."""
    return folder / READINESS


def sounds(folder: Path) -> Path:
    """Return the folder of all sounds that were kept."""
    return folder / SOUNDS


def handovers(folder: Path) -> Path:
    """Return the folder of hand-overs, where they were not put elsewhere; made on demand."""
    return folder / "handover"


def phrase_wav(sound_folder: Path) -> Path:
    """Return the stretch of the DI that a sound is told by."""
    return sound_folder / "phrase.wav"


def sound_json(sound_folder: Path) -> Path:
    """Return what is known of a sound; the last file written into its folder."""
    return sound_folder / "sound.json"


def face_lock(folder: Path) -> Path:
    """Return the lock that keeps a second face out of the session."""
    return folder / ".session.lock"


def card_socket(folder: Path) -> Path:
    """Return where the program that has the session open answers cards; its folder is for nothing else."""
    return folder / ".card" / "socket"


def passes(folder: Path) -> Path:
    """Return the folder of all passes."""
    return folder / PASSES


def part_passes(folder: Path, part: str) -> Path:
    """Return the folder of one part's passes."""
    return passes(folder) / part


def pass_folder(folder: Path, part: str, number: int) -> Path:
    """Return the folder that claims the number of one pass: three digits or more."""
    return part_passes(folder, part) / f"{number:03d}"


def order_json(pass_folder: Path) -> Path:
    """Return what was decided before the pass rolled."""
    return pass_folder / "order.json"


def join_json(pass_folder: Path) -> Path:
    """Return what was decided before the files of a drop-in were written."""
    return pass_folder / "join.json"


def roll_json(pass_folder: Path) -> Path:
    """Return the engine's own record of the pass."""
    return pass_folder / "roll.json"


def variant_json(pass_folder: Path) -> Path:
    """Return what the pass left; the last file written into its folder."""
    return pass_folder / VARIANT_JSON


def pass_lock(pass_folder: Path) -> Path:
    """Return the lock the engine holds while it writes this pass."""
    return pass_folder / ".pass.lock"


def opening_click(pass_folder: Path) -> Path:
    """Return the recording of the opening click: all inputs of the stream."""
    return pass_folder / "opening-click.wav"


def closing_click(pass_folder: Path) -> Path:
    """Return the recording of the closing click: all inputs of the stream."""
    return pass_folder / "closing-click.wav"


def witness_wav(pass_folder: Path) -> Path:
    """Return what the witness heard of the DI."""
    return pass_folder / "witness.wav"


def loop_wav(pass_folder: Path) -> Path:
    """Return what came back through the loop cable while the DI played."""
    return pass_folder / "loop.wav"
