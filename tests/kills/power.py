"""What a disk may hold after the power failed, made from what a whole run did to it.

The model is strict, as POSIX promises no more: a file holds what was handed to the disk last, and perhaps
some of what came after; a folder holds the names it had when it was synced last, and perhaps the changes
after that, in their order. File systems in use do better; none may do worse.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

import numpy as np


@dataclass(frozen=True)
class Step:
    """One operation of a run."""

    operation: str
    path: str
    to: str | None
    inode: int | None
    kept: str | None


@dataclass
class _Folder:
    """Names of a folder on the disk, and what was done to them since it was synced."""

    names: dict[str, int | None] = field(default_factory=dict)
    pending: list[tuple[str, int | None]] = field(default_factory=list)

    def sync(self) -> None:
        """Take what is pending as done; a name that is gone stays known as gone."""
        self.names.update(self.pending)
        self.pending.clear()


def read_trace(trace: Path) -> list[Step]:
    """Return every operation in its order."""
    lines = (trace / "operations").read_text().splitlines()
    return [
        Step(one["operation"], one["path"], one["to"], one["inode"], one.get("kept"))
        for one in map(json.loads, lines)
    ]


@dataclass
class _State:
    """What is known of the disk after some steps."""

    before: Path
    folders: dict[str, _Folder] = field(default_factory=dict)
    kept: dict[int, Path] = field(default_factory=dict)
    """Where a copy of the content lies that a file had when it was handed to the disk last."""
    made: set[str] = field(default_factory=set)
    """Paths that are folders."""


class Disk:
    """A disk that fails after some step of a run.

    Parameters
    ----------
    before
        The session before the run, all of it on the disk.
    after
        The session after it: what was not handed over yet is a beginning of what a file holds here.
    trace
        What was kept of the run.
    """

    def __init__(self, before: Path, after: Path, trace: Path) -> None:
        self._before, self._after, self._trace = before, after, trace
        self.steps = read_trace(trace)

    def fail(self, after_step: int, folder: Path, rng: np.random.Generator) -> None:
        """Make in `folder` what may be left when the power fails after a step."""
        shutil.copytree(self._before, folder)
        state = _State(self._before)
        for step in self.steps[:after_step]:
            self._follow(step, state)
        for parent in sorted(state.folders):  # a folder comes before what lies in it
            if (folder / parent).is_dir():  # else its own name did not reach the disk
                self._write(folder, parent, state, rng)

    def _write(self, folder: Path, parent: str, state: _State, rng: np.random.Generator) -> None:
        names: dict[str, int | None] = dict(state.folders[parent].names)
        pending = state.folders[parent].pending
        names.update(pending[: rng.integers(len(pending) + 1)])
        for name, inode in names.items():
            path = folder / parent / name
            if inode is None:
                path.unlink(missing_ok=True)
            elif (PurePosixPath(parent) / name).as_posix() in state.made:
                path.mkdir(exist_ok=True)
            else:
                path.write_bytes(self._content(state.kept.get(inode), parent, name, rng))

    def _content(
        self, kept: Path | None, parent: str, name: str, rng: np.random.Generator
    ) -> bytes:
        there = kept.read_bytes() if kept is not None else b""
        later = self._after / parent / name
        if not name.endswith(".wav") or not later.is_file():
            return there
        more = later.read_bytes()[len(there) :]
        return there + more[: rng.integers(len(more) + 1)]

    def _follow(self, step: Step, state: _State) -> None:
        """Take one operation into account."""
        match step.operation:
            case "fsync" | "fdatasync" if step.kept is None:
                state.folders.setdefault(_folder(step.path), _Folder()).sync()
            case "fsync" | "fdatasync" if step.inode is not None:
                state.kept[step.inode] = self._trace / str(step.kept)
            case "open" if (self._before / step.path).exists() and step.inode is not None:
                state.kept.setdefault(step.inode, self._before / step.path)
                _pend(state, step.path, step.inode)
                state.folders[_folder(str(PurePosixPath(step.path).parent))].sync()
            case "mkdir":
                state.made.add(step.path)
                _pend(state, step.path, step.inode)
            case "open":
                _pend(state, step.path, step.inode)
            case "link" if step.to is not None:
                _pend(state, step.to, step.inode)
            case "rename" | "replace" if step.to is not None:
                _pend(state, step.to, step.inode)
                _pend(state, step.path, None)
            case "unlink":
                _pend(state, step.path, None)


def _pend(state: _State, path: str, inode: int | None) -> None:
    where = PurePosixPath(path)
    parent = state.folders.setdefault(_folder(where.parent.as_posix()), _Folder())
    known: dict[str, int | None] = {**parent.names, **dict(parent.pending)}
    if known.get(where.name, "never") != inode:
        parent.pending.append((where.name, inode))


def _folder(path: str) -> str:
    return "" if path in {".", ""} else path
