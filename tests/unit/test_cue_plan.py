"""What a cue will play, before anything sounds: where, folded how, and what is refused or only said."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from tempo_cases import END, metre_event, midi, tempo_event
from wiring_cases import WHOLE, parsed

from audio.files.inspect import inspect
from audio.files.tempo import look_at_tempo
from audio.jobs.cue import plan_cue
from audio.jobs.cue_sources import PlannedCue, Stretch, backing_place, folded
from audio.jobs.placing import Known
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.results import AudioFacts
from audio.vocab.wiring import Cue
from audio.vocab.wiring_text import wiring_text

RATE = 48_000


class Reads:
    """Stands for the worker: reads files in this process, and counts."""

    def __init__(self) -> None:
        self.read = 0

    def inspect(self, path: Path) -> AudioFacts:
        self.read += 1
        return inspect(path)


def a_session(
    folder: Path, *, channels: int = 2, rate: int = RATE, bpm: float | None = 120.0
) -> Session:
    band = folder / "band.wav"
    soundfile.write(band, np.full((20_000, channels), 0.1), rate, "PCM_24")
    made = create(
        folder / "evening", name="evening", song="low water", bpm=bpm,
        wiring_text=wiring_text(parsed(WHOLE)),
    )  # fmt: skip
    return made.add_backing(None, source=band, facts=inspect(band))


def planned(session: Session, worker: Reads, known: Known, **stretch: int) -> PlannedCue:
    cue = "cue: {backing_db: -6, count_in_bars: 1}\n"
    usual = {"time_reference": 0, "frames": 96_000}
    return plan_cue(
        worker,  # type: ignore[arg-type]
        session,
        session.song(),
        wiring=parsed(WHOLE + cue),
        stretch=Stretch(**(usual | stretch)),
        known=known,
    )


def test_a_backing_at_another_rate_is_refused_with_both_and_the_way_out(tmp_path: Path) -> None:
    session = a_session(tmp_path, rate=44_100)
    with pytest.raises(UseError, match=r"44100 Hz and the wiring runs at 48000 Hz; export it"):
        planned(session, Reads(), Known())


def test_more_channels_than_are_mixed_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UseError, match=r"has 17 channels, at most 16 are mixed; export it in"):
        planned(a_session(tmp_path, channels=17), Reads(), Known())


def test_a_song_without_tempo_is_not_counted_in_and_that_is_said(tmp_path: Path) -> None:
    plan = planned(a_session(tmp_path, bpm=None), Reads(), Known())
    assert plan.counted is None
    assert plan.backing is not None
    assert plan.lead_in_frames == RATE // 4
    assert "low water is not counted in: it has no tempo" in plan.said


def test_a_song_with_a_tempo_file_is_counted_in_by_it(tmp_path: Path) -> None:
    file = tmp_path / "click.mid"
    file.write_bytes(midi(metre_event(0, 3, 2) + tempo_event(0, 1_000_000) + END))
    session = a_session(tmp_path).add_tempo(None, look_at_tempo(file, metre=None))
    plan = planned(session, Reads(), Known())
    assert plan.counted is not None
    assert plan.counted.frames == (-3 * RATE, -2 * RATE, -RATE)
    assert plan.counted.accents == (True, False, False)
    session.path("tempo/low-water.mid").unlink()
    plan = planned(session, Reads(), Known())
    assert plan.counted is None
    (said,) = [line for line in plan.said if "is not counted in" in line]
    assert "tempo/low-water.mid cannot be read" in said
    assert "put it back" in said


def test_many_channels_are_folded_and_that_is_said(tmp_path: Path) -> None:
    plan = planned(a_session(tmp_path, channels=5), Reads(), Known())
    assert any("5 channels of the backing track are folded" in line for line in plan.said)


def test_a_backing_that_lies_elsewhere_is_not_played_and_that_is_said(tmp_path: Path) -> None:
    plan = planned(a_session(tmp_path), Reads(), Known(), time_reference=10 * RATE)
    assert plan.backing is None
    assert any("lies elsewhere" in line for line in plan.said)


def test_a_backing_is_read_through_once_in_a_stream_and_again_when_its_file_changes(
    tmp_path: Path,
) -> None:
    session, worker, known = a_session(tmp_path), Reads(), Known()
    planned(session, worker, known)
    planned(session, worker, known)
    assert worker.read == 1
    file = session.path("backing/low-water.wav")
    file.chmod(0o644)
    file.write_bytes(file.read_bytes() + b"\0\0")
    with pytest.raises(UseError, match="is not the file that was added any more"):
        planned(session, worker, known)
    assert worker.read == 2


def test_two_streams_do_not_share_what_they_read(tmp_path: Path) -> None:
    first, second = Known(), Known()
    planned(a_session(tmp_path), Reads(), first)
    assert first.backings
    assert not second.backings


@pytest.mark.parametrize("channels", range(1, 9))
@pytest.mark.parametrize("listen", [(1,), (1, 2), (2, 1), (4, 5, 6, 7)])
def test_every_channel_is_heard_every_output_sounds_and_no_sum_can_clip(
    channels: int, listen: tuple[int, ...]
) -> None:
    heard = folded(channels, listen)
    assert len(heard) == channels
    assert all(heard)
    for output in listen:
        gains = [gain for one in heard for to, gain in one if to == output - 1]
        assert 0 < sum(gains) <= 1.0
        if channels <= len(listen):
            assert gains == [1.0], "nothing is folded, so nothing is turned down"


def test_channels_stand_in_the_order_of_the_listen_outputs() -> None:
    assert folded(2, (1, 2)) == (((0, 1.0),), ((1, 1.0),))
    assert folded(2, (2, 1)) == (((1, 1.0),), ((0, 1.0),))
    assert folded(1, (1, 2)) == (((0, 1.0), (1, 1.0)),)


@pytest.mark.parametrize(
    ("stamp", "from_frame", "place"),
    [
        (0, 0, (12_000, 0, 20_000)),
        (5_000, 0, (7_000, 0, 20_000)),
        (15_000, 0, (0, 3_000, 17_000)),
        (0, 14_000, (0, 2_000, 18_000)),
        (40_000, 0, None),
    ],
)
def test_a_backing_lies_by_its_stamp_against_the_frames_that_are_played(
    tmp_path: Path, stamp: int, from_frame: int, place: tuple[int, int, int] | None
) -> None:
    """Its frame 0 lies at frame 0 of the recorder's, a quarter of a second of silence goes before."""
    session = a_session(tmp_path, bpm=None)
    stretch = Stretch(time_reference=stamp, from_frame=from_frame, frames=96_000)
    facts = inspect(session.path("backing/low-water.wav"))
    plan = PlannedCue(lead_in_frames=12_000, stretch=stretch, backing=facts)
    assert backing_place(plan) == place


def test_nothing_is_read_where_there_is_no_cue(tmp_path: Path) -> None:
    session, worker = a_session(tmp_path), Reads()
    plan = plan_cue(
        worker,  # type: ignore[arg-type]
        session,
        session.song(),
        wiring=parsed(WHOLE),
        stretch=Stretch(time_reference=0, frames=96_000),
        known=Known(),
    )
    assert (worker.read, plan.backing, plan.counted, plan.said) == (0, None, None, ())
    assert Cue().backing_db is None
