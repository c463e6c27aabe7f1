"""Samples as a capture file holds them: from a device's block, to bytes and back, peak and clips."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audio.files.wave import WaveFormat

Samples = NDArray[np.int32] | NDArray[np.float32]
"""Shape (frames, channels): for depth 24 codes from −2**23 to 2**23 − 1, for depth 32 floats."""

_CODES = 1 << 23
_LARGEST = np.float32((_CODES - 1) / _CODES)
"""The largest sample 24 bits can hold, 1 − 2**−23; floats from here on count as full scale."""


def from_device(block: Samples, fmt: WaveFormat) -> Samples:
    """Return a block as the file will hold it.

    Parameters
    ----------
    block
        Shape (frames, channels). int32: full scale is 2**31; float32: full scale is 1.0.
    fmt
        Depth 24 takes the upper 24 bits of an integer as they are, and of a float the nearest code
        (ties to the even one), clipped to the range; not-a-number becomes 0. Depth 32 takes floats bit
        for bit and integers divided by 2**31, which is exact for 24-bit codes.

    Returns
    -------
    Samples
        Same shape; int32 codes for depth 24, float32 for depth 32, where it may be `block` itself.
    """
    if block.dtype == np.int32:
        integers = np.asarray(block, dtype=np.int32)
        if fmt.depth == 24:
            return np.right_shift(integers, 8)
        return integers.astype(np.float32) * np.float32(2.0**-31)
    floats = np.asarray(block, dtype=np.float32)
    return _nearest_codes(floats) if fmt.depth == 24 else floats


def as_device(sound: NDArray[np.float64], fmt: WaveFormat) -> Samples:
    """Return a sound as `from_device` takes a block.

    Parameters
    ----------
    sound
        Shape (frames,), or (channels, frames), full scale 1.0.
    fmt
        Of the file it is for: at depth 24 codes stay what they are, and what lies between two is rounded.

    Returns
    -------
    Samples
        Shape (frames, channels).
    """
    sound = np.atleast_2d(sound).T
    if fmt.depth == 32:
        return sound.astype(np.float32)
    codes = np.clip(np.rint(sound * _CODES), -_CODES, _CODES - 1)
    return (codes.astype(np.int64) << 8).astype(np.int32)


def to_bytes(samples: Samples, fmt: WaveFormat) -> bytes:
    """Return samples as the file's bytes: interleaved, little-endian, `fmt.frame_bytes` a frame."""
    if fmt.depth == 32:
        return samples.astype("<f4", copy=False).tobytes()
    wide = np.ascontiguousarray(samples, dtype="<i4").reshape(-1).view(np.uint8)
    out = np.empty(3 * samples.size, dtype=np.uint8)
    for byte in range(3):
        out[byte::3] = wide[byte::4]
    return out.tobytes()


def from_bytes(data: bytes | memoryview, fmt: WaveFormat) -> Samples:
    """Return the samples in some of a file's bytes, whole frames only."""
    if fmt.depth == 32:
        floats = np.frombuffer(data, dtype="<f4").astype(np.float32, copy=False)
        return floats.reshape(-1, fmt.channels)
    packed = np.frombuffer(data, dtype=np.uint8)
    wide = np.zeros(packed.size // 3 * 4, dtype=np.uint8)
    for byte in range(3):
        wide[byte + 1 :: 4] = packed[byte::3]
    codes = wide.view("<i4").astype(np.int32, copy=False) >> 8
    return codes.reshape(-1, fmt.channels)


class Tally:
    """Peak and samples at full scale of each channel, over everything added.

    Parameters
    ----------
    fmt
        Format of the samples that will be added.
    """

    def __init__(self, fmt: WaveFormat) -> None:
        self._unit = float(_CODES if fmt.depth == 24 else 1)
        self._top = float(_CODES - 1 if fmt.depth == 24 else _LARGEST)
        self._bottom = float(-_CODES if fmt.depth == 24 else -_LARGEST)
        self._peak = [0.0] * fmt.channels
        self._clipped = [0] * fmt.channels

    @property
    def peak(self) -> tuple[float, ...]:
        """Largest absolute sample of each channel, linear; infinite ones and no numbers are passed over."""
        return tuple(p / self._unit for p in self._peak)

    @property
    def clipped(self) -> tuple[int, ...]:
        """Samples at full scale of each channel; floats that are no number count among them."""
        return tuple(self._clipped)

    def add(self, samples: Samples) -> None:
        """Take in samples of shape (frames, channels)."""
        if samples.shape[0] == 0:
            return
        # Plain numbers from here on: small arrays cost ten times as much, thousands of times a second.
        lows, highs = samples.min(axis=0).tolist(), samples.max(axis=0).tolist()
        for channel, (low, high) in enumerate(zip(lows, highs, strict=True)):
            if low > self._bottom and high < self._top:
                self._peak[channel] = max(self._peak[channel], -low, high)
            else:
                self._add_loud(channel, samples[:, channel])

    def _add_loud(self, channel: int, samples: NDArray[np.int32] | NDArray[np.float32]) -> None:
        values = samples.astype(np.float64)
        self._clipped[channel] += int((~((values > self._bottom) & (values < self._top))).sum())
        numbers = np.abs(values[np.isfinite(values)])
        self._peak[channel] = max(self._peak[channel], float(numbers.max(initial=0.0)))


def _nearest_codes(floats: NDArray[np.float32]) -> NDArray[np.int32]:
    # Clipped before scaling: the bounds are codes already, and nothing can overflow.
    scaled = np.clip(floats, np.float32(-1.0), _LARGEST)
    scaled *= np.float32(_CODES)
    np.rint(scaled, out=scaled)
    scaled[np.isnan(scaled)] = 0.0
    return scaled.astype(np.int32)
