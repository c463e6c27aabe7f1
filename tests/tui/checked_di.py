"""A DI that was checked, invented: a joint, hum between the phrases, hits around the grid, and a double."""

from __future__ import annotations

import array
from typing import Any

from invented import DI_FRAMES, RATE, Names, di
from msgspec.structs import replace

from audio.grid.bars import BarGrid, bar_grid
from audio.grid.doubles import compare_doubles
from audio.jobs import news
from audio.jobs.readiness import judged
from audio.vocab.checked import Checked, HitsAsked
from audio.vocab.readiness import Between, DiLevel, DiMeasures, Edge, EditJoint, Hit
from audio.vocab.results import OutlineLevel, Outlines
from audio.vocab.session_file import Song

QUIET = Edge(silence_frames=0, step_dbfs=-200.0, click_db=-200.0, fade_frames=480)
LATE_MS = (2.0, -3.0, 18.0, 4.0, -1.0, 6.0, -9.0, 3.0)
JOINT = EditJoint(frame=7 * RATE, kind="step", size_db=31.0, confidence=0.97)
HUM = Between(
    kind="hum",
    frame=15 * RATE,
    frames=RATE,
    level_dbfs=-62.0,
    under_notes_db=44.0,
    hum_hz=50,
    confidence=0.9,
)


BIN = 128


def outlines(frames: int) -> Outlines:
    """Return a file each of whose bins is as high as its number."""
    bins = -(-frames // BIN)
    highs = array.array("h", [min(number + 1, 32_000) for number in range(bins)])
    level = OutlineLevel(
        bin_frames=BIN, lows=array.array("h", [0] * bins).tobytes(), highs=highs.tobytes()
    )
    return Outlines(path="x.wav", channel=0, sample_rate=48_000, frames=frames, levels=(level,))


def bars() -> BarGrid:
    """Return the bars of the invented song on its DI."""
    song = Song(name="last ferry", bpm=96.0, metre="4/4", song_start_s=0.25)
    found = bar_grid(song, time_reference=0, rate=RATE)
    assert found is not None
    return found


def hits(*, later_ms: float = 0.0, without: int | None = None) -> tuple[Hit, ...]:
    """Return two hits a beat for the first bars, each as late as the list above says."""
    grid, found = bars(), []
    for number in range(24):
        place = float(grid.exact(0)) + number * 0.5 * float(grid.beat_frames_at(0))
        late = LATE_MS[number % len(LATE_MS)] + later_ms
        hit = Hit(
            frame=place + late * RATE / 1000,
            width_ms=21.0 if number == 2 else 0.0,
            level_dbfs=-12.0,
            confidence=0.98,
        )
        found.append(hit)
    return tuple(one for number, one in enumerate(found) if number != without)


def measures(names: Names, **other: Any) -> DiMeasures:
    """Return what was measured of the invented DI."""
    facts = di(names).facts
    assert facts is not None
    level = DiLevel(
        peak_dbfs=-9.5,
        true_peak_dbtp=-9.2,
        loudness_lufs=-24.0,
        crest_db=16.0,
        dc=0.0,
        clipped_runs=0,
        clipped=(),
    )
    usual = DiMeasures(
        facts=replace(facts, time_reference=1),
        others="none",
        used_bits=24,
        level=level,
        start=QUIET,
        end=QUIET,
        hits=hits(),
        joints=(JOINT,),
        repeats=(),
        stops=(),
        between=(HUM,),
    )
    assert facts.frames == DI_FRAMES
    return replace(usual, **other)


def checked(names: Names, asked: HitsAsked | None = None, **other: Any) -> news.DiChecked:
    """Return the news that the invented DI was checked."""
    held = asked or HitsAsked()
    found: Checked = judged(measures(names, **other), bars=bars(), asked=held)
    return news.DiChecked(part=names.part, asked=held, checked=found)


def beside(names: Names, other: str = "hook") -> news.HitsCompared:
    """Return the news that it was compared with a double that plays 5 ms earlier and lacks a hit."""
    doubles = compare_doubles(hits(later_ms=-5.0, without=5), hits(), rate=RATE, bars=bars())
    return news.HitsCompared(part=names.part, other=other, compared=doubles)
