"""A capture beyond 4 GiB read by SoX, which decodes all of it before it says anything.

The tests give it a short RF64, and the long one to every other reader. Goal: all frames are counted.
"""

from __future__ import annotations

import subprocess
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import report

from audio.files.wave import DATA_AT, Stamp, WaveFormat, build_header, sized

SHAPE = WaveFormat(2, 96_000, 24)
BEYOND = 2**32 // SHAPE.frame_bytes + 48_001


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    frames = 48_001 if said.short else BEYOND
    report.conditions(f"{frames} frames of silence, two channels, 24-bit")
    began = time.perf_counter()
    told = counted(frames)
    report.figure("frames counted by SoX", f"{told}", f"{frames}", told == frames)
    report.figure("    seconds", f"{time.perf_counter() - began:.0f}")


def counted(frames: int) -> int:
    """Return how many frames SoX finds in a file of so many; its zeros take no room on the disk."""
    stamp = Stamp("long", datetime.now(UTC), 0)
    with TemporaryDirectory(prefix="secondpass-bench-") as folder:
        path = Path(folder) / "long.wav"
        with path.open("wb") as file:
            file.write(sized(build_header(SHAPE, stamp), frames))
            file.truncate(DATA_AT + frames * SHAPE.frame_bytes)
        asked = ["sox", "--i", "-s", path]
        return int(subprocess.run(asked, capture_output=True, check=True, text=True).stdout)


if __name__ == "__main__":
    main()
