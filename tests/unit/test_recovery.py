"""An opening mends what an evening's accidents left; one bad pass never keeps a session shut."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest
from msgspec.structs import replace
from session_cases import noon, order, session_with_a_part

from audio.files.wave import DATA_AT
from audio.jobs.recovery import mend
from audio.session import journal, layout
from audio.session.opened import Session
from audio.session.passes import claim, unfinished
from audio.session.records import variants, write_order
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.messages import Ended, Recorded, encode
from audio.vocab.requests import Follow
from audio.vocab.results import PassMeasures, Repaired, ReturnMeasures
from audio.work.client import Worker


class Desk:
    """A worker that measures anything alike, and falls over the passes it is told to."""

    def __init__(self, **falls: SecondpassError) -> None:
        self.repaired: list[str] = []
        self._falls = {int(number.removeprefix("at_")): error for number, error in falls.items()}

    def follow(self, asked: Follow) -> None:
        if asked.follow_id in self._falls:
            raise self._falls[asked.follow_id]

    def finish(self, follow_id: int) -> PassMeasures:
        loud = (-20.0,) * 20
        one = ReturnMeasures(
            path=f"{follow_id}.wav",
            frames=48_000,
            peak_dbfs=-10.0,
            clipped_runs=0,
            first_clipped=(),
            loudness_lufs=-20.0 + 6.0 * follow_id,  # each one louder than the last
            levels_dbfs=loud,
        )
        return PassMeasures(window_frames=2400, di_levels_dbfs=loud, returns=(one,))

    def repair(self, path: Path) -> Repaired:
        self.repaired.append(path.name)
        number = int(path.parent.name)
        if number in self._falls:
            raise self._falls[number]
        return Repaired(
            path=str(path), frames=48_000, audio_sha256="0" * 64, peak=0.3, clipped_samples=0
        )


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path)


def left(session: Session, *, finished: bool) -> int:
    """Leave a pass behind that rolled and was not judged: by its face's death, or its engine's."""
    claimed = claim(session, "rhythm-left", clock=noon)
    path = (claimed.folder / "a.wav").relative_to(session.folder).as_posix()
    write_order(claimed.folder, replace(order(claimed.number), paths=(path,)))
    session.path(path).write_bytes(b"RIFF" + bytes(DATA_AT))
    if finished:
        recorded = Recorded(
            path=path, frames=48_000, audio_sha256="0" * 64, peak=(0.3,), clipped_samples=(0,)
        )
        ended = Ended(
            roll_id=1, reason="quiet", stream_frame=0, frames=97_155, recorded=(recorded,)
        )
        layout.roll_json(claimed.folder).write_bytes(encode(ended))
    return claimed.number


def mended(session: Session, worker: Desk) -> dict[int, str]:
    found = mend(session, cast("Worker", worker))
    return {one.number: one.text for one in found}


@pytest.mark.parametrize("finished", [True, False], ids=["finished", "torn"])
@pytest.mark.parametrize(
    "error",
    [
        DeviceError("the worker ended while it measured a.wav"),
        UseError("a.wav is no capture of this program"),
    ],
    ids=["worker", "file"],
)
def test_one_bad_capture_is_left_as_it_is_and_the_others_are_judged(
    session: Session, error: SecondpassError, *, finished: bool
) -> None:
    numbers = [left(session, finished=finished) for _ in range(3)]
    said = mended(session, Desk(at_2=error))
    assert said[2] == f"left as it is: {error}"
    judged = [v.number for v in variants(session).found]
    assert judged == [n for n in numbers if n != 2]
    assert [one.number for one in unfinished(session)] == [2]  # the next opening tries again


def test_a_mended_pass_is_compared_with_what_was_before_it(session: Session) -> None:
    for _ in range(2):
        left(session, finished=True)
    mended(session, Desk())
    first, second = (v.findings for v in variants(session).found)
    assert "level-off" not in {f.code for f in first}
    assert "close is 6.0 dB louder" in next(f.text for f in second if f.code == "level-off")
    noted = [e.facts["number"] for e in journal.read(session.folder) if e.event == "judged"]
    assert noted == [1, 2]


def test_a_torn_pass_is_marked_recovered(session: Session) -> None:
    left(session, finished=False)
    said: dict[int, Any] = mended(session, Desk())
    assert "its files were repaired" in said[1]
    (one,) = variants(session).found
    assert one.state == "recovered"
    assert one.verdict != "good"


def test_a_torn_pass_leaves_no_capture_unreadable(session: Session) -> None:
    number = left(session, finished=False)
    folder = layout.pass_folder(session.folder, "rhythm-left", number)
    for name in ("opening-click.wav", "witness.wav", "loop.wav"):
        (folder / name).write_bytes(b"RIFF" + bytes(DATA_AT))
    worker = Desk()
    mended(session, worker)
    assert sorted(worker.repaired) == ["a.wav", "loop.wav", "opening-click.wav", "witness.wav"]


def test_captures_that_were_made_and_hold_nothing_make_no_variant(session: Session) -> None:
    number = left(session, finished=False)
    folder = layout.pass_folder(session.folder, "rhythm-left", number)
    (folder / "a.wav").write_bytes(b"RIFF" + bytes(DATA_AT - 4))
    (folder / "opening-click.wav").write_bytes(b"RIFF" + bytes(DATA_AT))
    worker = Desk()
    assert mended(session, worker) == {number: "was ended before anything of the DI was recorded"}
    assert worker.repaired == ["opening-click.wav"]
    assert (variants(session).found, unfinished(session)) == ((), ())


def test_recordings_whose_order_is_lost_are_not_called_empty(session: Session) -> None:
    number = left(session, finished=False)
    folder = layout.pass_folder(session.folder, "rhythm-left", number)
    layout.order_json(folder).unlink()
    (said,) = mended(session, Desk()).values()
    assert said.startswith("left as it is: ")
    assert "order.json is missing" in said
    assert [one.number for one in unfinished(session)] == [number]


@pytest.mark.parametrize("record", [b"", b'{"type": "Ended", "roll_', b"\0" * 300, b"none"])
def test_a_pass_whose_record_is_torn_is_judged_by_its_recordings(
    session: Session, record: bytes
) -> None:
    number = left(session, finished=True)
    folder = layout.pass_folder(session.folder, "rhythm-left", number)
    layout.roll_json(folder).write_bytes(record)
    assert "its files were repaired" in mended(session, Desk())[number]
    assert [one.state for one in variants(session).found] == ["recovered"]
    assert layout.roll_json(folder).read_bytes() == record


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("../../a.wav", "does not lie in the session's folder"),
        ("/somewhere/a.wav", "does not lie in the session's folder"),
        ("passes/rhythm-left/009/a.wav", "names files of another pass"),
        ("a.wav", "names files of another pass"),
    ],
)
def test_an_order_that_names_files_elsewhere_touches_none_of_them(
    session: Session, path: str, said: str
) -> None:
    number = left(session, finished=False)
    folder = layout.pass_folder(session.folder, "rhythm-left", number)
    write_order(folder, replace(order(number), paths=(path,)))
    worker = Desk()
    assert said in mended(session, worker)[number]
    assert worker.repaired == []


def test_a_mistake_of_the_program_keeps_no_session_shut(session: Session) -> None:
    numbers = [left(session, finished=True) for _ in range(2)]
    worker = Desk(at_1=cast("SecondpassError", KeyError("levels")))
    said = mended(session, worker)
    assert said[1].startswith("left as it is: the program failed at it (KeyError: 'levels')")
    assert [one.number for one in variants(session).found] == numbers[1:]
