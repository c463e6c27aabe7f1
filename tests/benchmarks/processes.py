"""What other processes use, read from Linux's /proc."""

from __future__ import annotations

from pathlib import Path

MB = 1e6
_FIFO = 1
"""``SCHED_FIFO`` of ``sched.h``."""


def rss_bytes(pid: int) -> int:
    """Return the resident memory of a process, bytes."""
    return _kilobytes(pid, "VmRSS") * 1024


def peak_rss_bytes(pid: int) -> int:
    """Return the largest resident memory of a process so far, bytes."""
    return _kilobytes(pid, "VmHWM") * 1024


def pss_bytes(pid: int) -> int:
    """Return the resident memory of a process, what it shares counted in shares, bytes."""
    for line in _text(Path(f"/proc/{pid}/smaps_rollup")).splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) * 1024
    return 0


def descendants(pid: int) -> list[int]:
    """Return a process and everything it started that is still there."""
    found = [pid]
    for one in found:
        for task in Path(f"/proc/{one}/task").glob("*/children"):
            found += [int(child) for child in _text(task).split()]
    return found


def runs(pid: int, module: str) -> bool:
    """Return whether a process was started as that Python module."""
    return module in _text(Path(f"/proc/{pid}/cmdline")).split("\0")


def has_realtime_thread(pid: int) -> bool:
    """Return whether any thread of a process runs first in, first out, before all ordinary ones."""
    for stat in Path(f"/proc/{pid}/task").glob("*/stat"):
        fields = _text(stat).rpartition(")")[2].split()
        if fields and int(fields[38]) == _FIFO:
            return True
    return False


def _kilobytes(pid: int, key: str) -> int:
    for line in _text(Path(f"/proc/{pid}/status")).splitlines():
        if line.startswith(key + ":"):
            return int(line.split()[1])
    return 0


def _text(path: Path) -> str:
    """Return a file's text, nothing for a process that has ended meanwhile."""
    try:
        return path.read_text()
    except OSError:
        return ""
