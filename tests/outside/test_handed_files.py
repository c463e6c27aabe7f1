"""Files that were handed over, read, nulled and placed by tools we did not write.

A pass through a plain path (no bend, no loudspeaker, some air) is kept and handed over twice: as
recorded, and with all files beginning at the song's bar 1. Readers: libsndfile, ffprobe of FFmpeg,
MediaInfo, SoX, wavinfo. Nulled by SoX and by FFmpeg, FLAC tested by Xiph's own `flac`; placed on a
timeline by FFmpeg.
"""

from __future__ import annotations

import csv
import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from installed import run
from needs import needs_program, needs_samples
from playing import phrase
from scipy.signal import coherence, csd
from stamped import write_stamped
from wavinfo import WavInfoReader

pytestmark = [
    needs_samples(),
    needs_program("ffmpeg", package="ffmpeg"),
    needs_program("mediainfo", package="mediainfo"),
    needs_program("sox", package="sox"),
    needs_program("flac", package="flac"),
    pytest.mark.slow,
]

RATE = 48_000
HOUR = 3600 * RATE
BAR_1_S = 3599.5

ROOM = """\
name: plain
device:
  kind: simulated
  pace: free
  inputs: 6
  outputs: 4
  converter_frames: 131.37
  noise_dbfs: -90
  amp: {clean: true}
  microphones:
    - {input: 2, cabinet: none, distance_cm: 5, gain_db: 0}
    - {input: 4, cabinet: none, distance_cm: 150, gain_db: -6}
sample_rate: 48000
send: {output: 3}
returns: [{name: close, input: 2}, {name: room, input: 4}]
reference: close
tail_s: 2
"""


@dataclass(frozen=True)
class Handed:
    session: Path
    recorded: Path
    """Each file where it was recorded; FLAC beside; the DI along."""
    song: Path
    """All from bar 1 on."""

    def rows(self, folder: Path) -> list[dict[str, str]]:
        with (folder / "list.csv").open(encoding="utf-8-sig", newline="") as file:
            return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> Handed:
    folder = tmp_path_factory.mktemp("handed")
    (folder / "room.yaml").write_text(ROOM)
    played = np.rint(phrase(rate=RATE, seconds=3.0, seed=9) * 2**23).astype(np.int64)
    write_stamped(folder / "riff.wav", played[:, None], rate=RATE, time_reference=HOUR)
    done(folder, "new", "night", "--di", "riff.wav", "--wiring", "room.yaml", "--bpm", "96")
    yaml = folder / "night" / "session.yaml"
    yaml.write_text(yaml.read_text().replace("bpm: 96", f"song_start_s: {BAR_1_S}\n    bpm: 96"))
    done(folder, "pass", "night", "--part", "riff", "--chain", "bare path")
    done(folder, "note", "night", "--part", "riff", "--number", "1", "--keep", "clean")
    alone = ("--no-sheet", "--no-page", "--also", "di")
    done(folder, "handover", "night", "--out", "recorded", "--flac", *alone)
    done(folder, "handover", "night", "--out", "song", "--start", "song", *alone)
    return Handed(folder / "night", folder / "recorded", folder / "song")


def done(folder: Path, *words: str) -> None:
    ran = run(*words, folder=folder)
    assert ran.code == 0, ran.err


def tool(*command: str) -> str:
    ended = subprocess.run(command, capture_output=True, check=True, text=True)
    return ended.stdout + ended.stderr


def wavs(folder: Path) -> list[Path]:
    found = sorted(folder.glob("files/*/*.wav"))
    assert [one.name for one in found] == [
        "riff_001_bare-path_close.wav",
        "riff_001_bare-path_room.wav",
        "riff_di-r1.wav",
    ]
    return found


@pytest.mark.parametrize("which", ["recorded", "song"])
def test_five_readers_read_what_the_list_says(handed: Handed, which: str) -> None:
    folder: Path = getattr(handed, which)
    listed = {one["path"]: one for one in handed.rows(folder)}
    for path in wavs(folder):
        row = listed[path.relative_to(folder).as_posix()]
        frames, stamp = int(row["frames"]), int(row["start_frame"])
        assert (soundfile.info(path).frames, soundfile.info(path).samplerate) == (frames, RATE)
        assert int(tool("soxi", "-s", str(path))) == frames
        told = json.loads(
            tool(
                "ffprobe", "-v", "error", "-show_streams", "-show_format", "-of", "json", str(path)
            )
        )
        assert told["streams"][0]["duration_ts"] == frames
        assert told["streams"][0]["bits_per_raw_sample"] == "24"
        assert int(told["format"]["tags"]["time_reference"]) == stamp
        info = WavInfoReader(str(path))
        assert (info.data.frame_count, info.bext.time_reference) == (frames, stamp)
        assert int(tool("mediainfo", "--Inform=Audio;%SamplingCount%", str(path))) == frames
    assert {int(one["start_frame"]) for one in listed.values()} == {
        HOUR if which == "recorded" else round(BAR_1_S * RATE)
    }


def test_files_as_recorded_null_against_their_sources(handed: Handed) -> None:
    for path in wavs(handed.recorded)[:2]:
        source = next(handed.session.glob(f"passes/riff/001/{path.name}"))
        assert nulled_by_sox(path, source) == 0.0
        flac = path.with_suffix(".flac")
        tool("flac", "--test", "--silent", "--warnings-as-errors", str(flac))
        assert nulled_by_ffmpeg(flac, source) == 0.0


def test_files_from_bar_1_null_against_their_sources_moved_there(
    handed: Handed, tmp_path: Path
) -> None:
    later = HOUR - round(BAR_1_S * RATE)
    for path in wavs(handed.song)[:2]:
        source = next(handed.session.glob(f"passes/riff/001/{path.name}"))
        moved = tmp_path / path.name
        tool("sox", str(source), str(moved), "pad", f"{later}s@0s")
        assert nulled_by_sox(path, moved) == 0.0


def nulled_by_sox(one: Path, other: Path) -> float:
    """Return the largest sample of the difference."""
    assert soundfile.info(one).frames == soundfile.info(other).frames
    told = tool("sox", "-m", "-v", "1", str(one), "-v", "-1", str(other), "-n", "stat")
    line = next(line for line in told.splitlines() if line.startswith("Maximum amplitude"))
    lowest = next(line for line in told.splitlines() if line.startswith("Minimum amplitude"))
    return max(abs(float(line.split()[-1])), abs(float(lowest.split()[-1])))


def nulled_by_ffmpeg(one: Path, other: Path) -> float:
    assert soundfile.info(one).frames == soundfile.info(other).frames
    difference = "[0:a]aformat=dblp[a];[1:a]aformat=dblp,volume=-1.0[b];[a][b]amix=2:normalize=0"
    ended = subprocess.run(
        [
            "ffmpeg",
            "-v",
            "error",
            "-i",
            one,
            "-i",
            other,
            "-filter_complex",
            difference,
            "-f",
            "f64le",
            "-",
        ],
        capture_output=True,
        check=True,
    )
    sound = np.frombuffer(ended.stdout)
    assert sound.size == soundfile.info(one).frames
    return float(np.abs(sound).max())


def test_placed_by_their_time_stamps_they_lie_on_the_di_within_the_stated_residual(
    handed: Handed, tmp_path: Path
) -> None:
    rows = {Path(one["path"]).name: one for one in handed.rows(handed.recorded)}
    close, _, di = (placed(path, tmp_path) for path in wavs(handed.recorded))
    assert di.size <= close.size
    row = rows["riff_001_bare-path_close.wav"]
    far = lag(di, close[: di.size])
    stated, sure = float(row["residual_frames"]), float(row["plus_minus_frames"])
    assert abs(stated) <= 0.5 + sure
    assert abs(far - stated) <= sure + 0.02  # two hundredths of a frame for the measure here


def test_from_bar_1_on_they_lie_side_by_side(handed: Handed) -> None:
    close, _, di = (soundfile.read(path)[0] for path in wavs(handed.song))
    assert abs(lag(di, close[: di.size])) <= 0.6


def placed(path: Path, tmp_path: Path) -> np.ndarray:
    """Return a file on a timeline from two seconds before the first hour on, as FFmpeg lays it there."""
    stamp = json.loads(tool("ffprobe", "-v", "error", "-show_format", "-of", "json", str(path)))[
        "format"
    ]["tags"]["time_reference"]
    begins = int(stamp) - (HOUR - 2 * RATE)
    out = tmp_path / f"placed.{path.name}"
    tool(
        "ffmpeg",
        "-v",
        "error",
        "-i",
        str(path),
        "-af",
        f"adelay={begins}S",
        "-c:a",
        "pcm_s24le",
        str(out),
    )
    return soundfile.read(out)[0]


def lag(one: np.ndarray, other: np.ndarray) -> float:
    """Return how many frames later the other is: by the phase of scipy's cross spectrum.

    From 2 kHz on, where an amp's coupling turns no phase any more, and where both agree; a plain
    correlation's peak is drawn aside by what the coupling does to the low strings.
    """
    hz, cross = csd(one, other, fs=RATE, nperseg=8192)
    alike = coherence(one, other, fs=RATE, nperseg=8192)[1]
    used = (hz > 2000.0) & (hz < 12_000.0) & (alike > 0.99)
    assert used.sum() > 100
    weight = alike[used] / (1.0 - alike[used] + 1e-9)
    radians = 2.0 * np.pi * hz[used] / RATE
    return float(-(weight * radians * np.angle(cross[used])).sum() / (weight * radians**2).sum())
