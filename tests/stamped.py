"""WAV files with a time stamp, as a recorder writes them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from audio.files.wave import Stamp, WaveFormat, build_header, sized


def write_stamped(path: Path, codes: np.ndarray, *, rate: int, time_reference: int) -> Path:
    """Write 24-bit codes, shape (frames, channels), whose first frame lies at a frame of the recorder's."""
    stamp = Stamp(
        description="", made_at=datetime(2026, 11, 25, tzinfo=UTC), time_reference=time_reference
    )
    header = build_header(WaveFormat(channels=codes.shape[1], rate=rate, depth=24), stamp)
    rows = codes.astype("<i4").reshape(-1, 1).view(np.uint8)[:, :3].tobytes()
    path.write_bytes(sized(header, len(codes)) + rows + b"\0" * (len(rows) % 2))
    return path
