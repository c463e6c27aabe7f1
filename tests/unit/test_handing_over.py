"""A hand-over from the first file to the last: what it holds, and that a stop or a kill costs nothing."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import numpy as np
import pytest
import soundfile
from handed import FRAMES, HOUR, RATE, codes, evening, keep, left
from unit.session_cases import NOON, tree

from audio.jobs.deck import StoppedError
from audio.jobs.handing.handing import hand_over
from audio.session import journal, layout
from audio.session.opened import Session
from audio.session.opinions import say
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.handover import HandedOver, HandoverAsked, HandoverNow
from audio.work.client import Worker

PLAIN = HandoverAsked(sheet=False, page=False)
"""The files alone."""


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    with Worker() as one:
        yield one


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """Two variants of two microphones; the second one is kept, its room turned down."""
    made = evening(tmp_path)
    left(made, chain="crunch", seed=20)
    keep(made, left(made), room_db=-6.0)
    return made


def hand(
    session: Session,
    worker: Worker,
    asked: HandoverAsked = PLAIN,
    *,
    out: Path | None = None,
    shown: Callable[[HandoverNow], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
    **changes: object,
) -> HandedOver:
    asked = msgspec.structs.replace(asked, **changes)
    return hand_over(session, worker, asked, out=out, shown=shown, stop=stop, clock=lambda: NOON)


def sounds(done: HandedOver) -> list[str]:
    files = Path(done.folder, "files")
    return sorted(one.relative_to(files).as_posix() for one in files.rglob("*") if one.is_file())


def read(done: HandedOver, name: str) -> np.ndarray:
    """Return 24-bit codes, or floats, of a file that was handed over."""
    path = Path(done.folder, "files", name)
    if soundfile.info(path).subtype == "FLOAT":
        return soundfile.read(path, dtype="float64")[0]
    return soundfile.read(path, dtype="int32")[0].astype(np.int64) >> 8


def rows(done: HandedOver) -> list[dict[str, str]]:
    text = Path(done.folder, "list.csv").read_bytes().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


# ---------------------------------------------------------------- what it holds


def test_keepers_go_as_they_were_recorded_byte_for_byte(session: Session, worker: Worker) -> None:
    before = tree(session.folder)
    done = hand(session, worker)
    assert sounds(done) == [
        "last-ferry/rhythm-left_002_fuzz-into-delay_close.wav",
        "last-ferry/rhythm-left_002_fuzz-into-delay_room.wav",
    ]
    for name in sounds(done):
        source = layout.pass_folder(session.folder, "rhythm-left", 2) / Path(name).name
        assert Path(done.folder, "files", name).read_bytes() == source.read_bytes()
    after = tree(session.folder)
    assert {key for key in before if after[key] != before[key]} == {"journal.jsonl"}
    assert (done.sounds, done.files, done.left_out, done.resumed) == (1, 2, (), False)
    assert Path(done.folder) == session.folder / "handover" / "harbour-lights-001"


def test_checksums_hold_for_everything_and_for_a_tool_we_did_not_write(
    session: Session, worker: Worker
) -> None:
    folder = Path(hand(session, worker, flac=True, blends=True).folder)
    lines = (folder / "SHA256SUMS").read_text().splitlines()
    listed = {line.split("  ", 1)[1]: line.split("  ", 1)[0] for line in lines}
    there = {one.relative_to(folder).as_posix() for one in folder.rglob("*") if one.is_file()}
    assert set(listed) == there - {"SHA256SUMS"}
    for name, digest in listed.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    # GNU coreutils
    subprocess.run(
        ["sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS"], cwd=folder, check=True
    )


def test_all_is_everything_in_sight(session: Session, worker: Worker) -> None:
    left(session, chain="tired cable", seed=40)
    say(session, "rhythm-left", 3, discarded=True)
    done = hand(session, worker, everything=True)
    assert [name.split("_")[1] for name in sounds(done)] == ["001", "001", "002", "002"]


def test_without_a_keeper_the_way_out_is_told_and_no_folder_is_made(
    tmp_path: Path, worker: Worker
) -> None:
    made = evening(tmp_path)
    left(made)
    with pytest.raises(
        UseError, match=r"no variant was kept yet; keep one .* or hand over everything"
    ):
        hand(made, worker)
    assert not layout.handovers(made.folder).exists()
    with pytest.raises(UseError, match="no part 'lead'"):
        hand(made, worker, parts=("lead",))


def test_files_begin_at_bar_1_where_that_is_asked_and_hold_the_same_codes(
    tmp_path: Path, worker: Worker
) -> None:
    made = evening(tmp_path, song_start_s=3598.0)
    keep(made, left(made, seed=7))
    done = hand(made, worker, start="song", also=("backing", "di", "originals"))
    shift = 2 * RATE
    close = read(done, "last-ferry/rhythm-left_001_fuzz-into-delay_close.wav")
    assert (len(close), close[:shift].any()) == (FRAMES + shift, False)
    np.testing.assert_array_equal(close[shift:], codes(7, peak_db=-12.0))
    np.testing.assert_array_equal(read(done, "last-ferry/rhythm-left_di-r1.wav")[shift:], codes(0))
    original = read(done, "last-ferry/rhythm-left_original_close.wav")
    np.testing.assert_array_equal(original[shift + 30 :], codes(50))
    told = {one["kind"]: one for one in rows(done)}
    assert told["microphone"]["start"] == "00:59:58.000"
    assert told["original"]["start_frame"] == str(HOUR - shift)
    # a FLAC file has no stamp: at the recorder's midnight it would give all others an hour of silence
    assert read(done, "last-ferry/last-ferry_backing.flac").shape == (20_000, 2)
    assert any("backing/last-ferry.flac has no time stamp" in one for one in done.left_out)
    letter = Path(done.folder, "START-HERE.txt").read_text()
    assert "All files of a song begin at the same place" in letter


def test_a_stamp_of_one_o_clock_gives_no_hour_of_silence(session: Session, worker: Worker) -> None:
    done = hand(session, worker, start="song")
    for name in sounds(done):
        assert len(read(done, name)) == FRAMES


def test_a_blend_is_the_sum_at_the_balance_it_was_kept_with(
    session: Session, worker: Worker
) -> None:
    done = hand(session, worker, blends=True)
    blend = read(done, "last-ferry/rhythm-left_002_fuzz-into-delay_blend.wav")
    wanted = codes(7, peak_db=-12.0) + 10 ** (-6.0 / 20.0) * codes(8, peak_db=-12.0)
    assert np.abs(blend - wanted).max() <= 0.5 + 1e-6  # the nearest code
    assert {one["balance"] for one in rows(done) if one["kind"] == "blend"} == {"room −6 dB"}


def test_a_blend_over_full_scale_lies_in_floats_and_clips_nothing(
    tmp_path: Path, worker: Worker
) -> None:
    made = evening(tmp_path)
    keep(made, left(made, peak_db=0.0))
    done = hand(made, worker, blends=True, flac=True)
    blend = read(done, "last-ferry/rhythm-left_001_fuzz-into-delay_blend.wav")
    wanted = (codes(7, peak_db=0.0) + codes(8, peak_db=0.0)) / 2.0**23
    assert np.abs(blend).max() > 1.5
    np.testing.assert_allclose(blend, wanted, atol=2.0**-23)
    assert not any(name.endswith("blend.flac") for name in sounds(done))
    assert any("blend.wav is louder than full scale" in one for one in done.left_out)
    told = next(one for one in rows(done) if one["kind"] == "blend")
    assert (told["depth"], float(told["peak_dbfs"]) > 3.0) == ("32", True)


def test_one_microphone_at_0_db_needs_no_blend_and_one_turned_down_alone_does(
    tmp_path: Path, worker: Worker
) -> None:
    made = evening(tmp_path)
    keep(made, left(made, microphones=("close",)))
    keep(made, left(made, microphones=("room",)), room_db=-6.0)
    done = hand(made, worker, blends=True)
    assert [name for name in sounds(done) if "blend" in name] == [
        "last-ferry/rhythm-left_002_fuzz-into-delay_blend.wav"
    ]
    blend = read(done, "last-ferry/rhythm-left_002_fuzz-into-delay_blend.wav")
    assert np.abs(blend - 10 ** (-6.0 / 20.0) * codes(7, peak_db=-12.0)).max() <= 0.5 + 1e-6


def test_flac_holds_the_same_codes_and_floats_go_without(tmp_path: Path, worker: Worker) -> None:
    made = evening(tmp_path)
    keep(made, left(made))
    keep(made, left(made, depth=32, microphones=("close",)))
    done = hand(made, worker, flac=True)
    stem = "last-ferry/rhythm-left_001_fuzz-into-delay_close"
    np.testing.assert_array_equal(read(done, f"{stem}.flac"), read(done, f"{stem}.wav"))
    assert "last-ferry/rhythm-left_002_fuzz-into-delay_close.flac" not in sounds(done)
    assert any("002" in one and "FLAC does not hold" in one for one in done.left_out)


def test_what_goes_along_goes_once_and_as_it_was_brought(session: Session, worker: Worker) -> None:
    done = hand(session, worker, everything=True, also=("backing", "di", "originals"))
    along = [name for name in sounds(done) if "_00" not in name]
    assert along == [
        "last-ferry/last-ferry_backing.flac",
        "last-ferry/rhythm-left_di-r1.wav",
        "last-ferry/rhythm-left_original_close.wav",
    ]
    di = session.path(session.part("rhythm-left")[1].revisions[0].file)
    assert Path(done.folder, "files", along[1]).read_bytes() == di.read_bytes()


def test_a_source_that_changed_is_left_out_and_said_and_the_others_go(
    session: Session, worker: Worker
) -> None:
    folder = layout.pass_folder(session.folder, "rhythm-left", 2)
    path = next(folder.glob("*_close.wav"))
    data = bytearray(path.read_bytes())
    data[5000] ^= 1
    path.write_bytes(data)
    done = hand(session, worker, blends=True)
    assert [name.rpartition("_")[2] for name in sounds(done)] == ["room.wav"]
    assert len(done.left_out) == 2  # the microphone, and the blend it is part of
    assert all("is not what it was" in one for one in done.left_out)


def test_a_missing_source_is_left_out_and_said(session: Session, worker: Worker) -> None:
    next(layout.pass_folder(session.folder, "rhythm-left", 2).glob("*_room.wav")).unlink()
    done = hand(session, worker)
    assert [name.rpartition("_")[2] for name in sounds(done)] == ["close.wav"]
    assert "_room.wav cannot be read" in done.left_out[0]


def test_the_list_has_a_line_a_file_and_the_record_has_everything(
    session: Session, worker: Worker
) -> None:
    done = hand(session, worker, flac=True, blends=True)
    told = rows(done)
    assert [one["path"].removeprefix("files/") for one in told] == [
        f"last-ferry/rhythm-left_002_fuzz-into-delay_{name}"
        for name in ("close.wav", "close.flac", "room.wav", "room.flac", "blend.wav", "blend.flac")
    ]
    room = told[2]
    assert (room["number"], room["microphone"], room["balance_db"]) == ("2", "room", "-6.0")
    assert (room["keeper"], room["verdict"]) == ("sits in the mix", "good")
    assert (room["start"], room["start_frame"]) == ("01:00:00.000", str(HOUR))
    record = json.loads(Path(done.folder, "list.json").read_bytes())
    assert [one["path"] for one in record["files"]] == [one["path"] for one in told]
    assert record["variants"][0]["variant"]["number"] == 2
    assert record["variants"][0]["said"]["keeper"]["reason"] == "sits in the mix"
    assert record["songs"][0]["bpm"] == 96.0
    assert record["token"] == done.token


def test_the_journal_knows_what_left_the_building(session: Session, worker: Worker) -> None:
    done = hand(session, worker)
    told = journal.told(session.folder, ("handed over",))[0]
    assert told.facts == {
        "name": "harbour-lights-001",
        "token": done.token,
        "sounds": {"rhythm-left": [2]},
    }
    assert len(done.token) == 8


HOSTILE = (
    '=HYPERLINK("x")',
    "<script>alert(1)</script>",
    'a","b',
    "\u05e9\u05dc\u05d5\u05dd",
    "-2+3",
    "@sum",
    "[/]%0a",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_reach_the_list_as_text_and_no_formula(
    tmp_path: Path, worker: Worker, name: str
) -> None:
    made = evening(tmp_path, name=name, song=name)
    number = left(made, chain=name)
    keep(made, number)
    say(made, "rhythm-left", number, called=name, words=name)
    done = hand(made, worker, names="{song}/{called}_{part}_{number}_{microphone}")
    for one in rows(done):
        assert one["song"].lstrip("'") == name
        assert one["words"].lstrip("'") == name
        assert not one["called"].startswith(("=", "+", "-", "@"))
    record = json.loads(Path(done.folder, "list.json").read_bytes())
    assert record["files"][0]["chain"] == name  # programs get it as it is
    assert all(len(Path(one).parts) == 2 for one in sounds(done))


# ---------------------------------------------------------------- where it lies


def test_each_hand_over_has_a_folder_of_its_own_and_no_number_comes_again(
    session: Session, worker: Worker
) -> None:
    first, second = hand(session, worker), hand(session, worker)
    assert [one.name for one in (first, second)] == ["harbour-lights-001", "harbour-lights-002"]
    Path(second.folder).rename(session.folder / "taken away")
    assert hand(session, worker).name == "harbour-lights-003"


def test_a_folder_that_holds_something_is_refused_and_untouched(
    session: Session, worker: Worker, tmp_path: Path
) -> None:
    out = tmp_path / "stick"
    done = hand(session, worker, out=out)
    before = tree(out)
    with pytest.raises(UseError, match="not empty; name a new or an empty one"):
        hand(session, worker, out=out)
    assert tree(out) == before
    assert Path(done.folder) == out
    with pytest.raises(UseError, match="its parent folder does not exist"):
        hand(session, worker, out=tmp_path / "no" / "stick")
    (tmp_path / "file").write_text("x")
    with pytest.raises(UseError, match="there is a file of this name"):
        hand(session, worker, out=tmp_path / "file")


def test_a_full_disk_is_told_before_anything_is_made(
    session: Session, worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("audio.jobs.handing.handing.free_bytes", lambda _: 10)
    with pytest.raises(UseError, match=r"takes 0 MB, and 0 MB are free there; make room"):
        hand(session, worker)
    assert not layout.handovers(session.folder).exists()


# ---------------------------------------------------------------- stopped, killed, gone on with


def stops_after(count: int) -> Callable[[], bool]:
    asked = iter(range(count))
    return lambda: next(asked, None) is None


def test_stopped_anywhere_the_same_command_goes_on_and_nothing_whole_is_written_again(
    session: Session, worker: Worker
) -> None:
    whole = hand(session, worker, flac=True, blends=True)
    folder = layout.handovers(session.folder) / "harbour-lights-002"
    for count in range(1, 30):
        there = {one: one.stat().st_ino for one in folder.glob("files/*/*")}
        try:
            done = hand(session, worker, flac=True, blends=True, stop=stops_after(count))
        except StoppedError:
            assert (folder / ".unfinished").is_dir()
            assert {one: one.stat().st_ino for one in there} == there
        else:
            break
    assert done.resumed
    assert done.name == "harbour-lights-002"
    assert sounds(done) == sounds(whole)
    assert not (folder / ".unfinished").exists()
    for name in sounds(done):
        mine, other = (Path(one.folder, "files", name) for one in (done, whole))
        assert mine.read_bytes() == other.read_bytes()


def test_what_a_crash_left_is_proven_before_it_counts(session: Session, worker: Worker) -> None:
    with pytest.raises(StoppedError):
        hand(session, worker, stop=stops_after(2))
    folder = layout.handovers(session.folder) / "harbour-lights-001"
    path = next(folder.glob("files/*/*_close.wav"))
    path.write_bytes(path.read_bytes()[:-100] + bytes(100))  # as a power failure may leave it
    (path.parent / "rhythm-left_002_fuzz-into-delay_room.wav.part").write_bytes(b"half")
    with (folder / ".unfinished" / "progress.jsonl").open("ab") as file:
        file.write(b'{"path":"files/torn')
    done = hand(session, worker)
    assert done.resumed
    source = layout.pass_folder(session.folder, "rhythm-left", 2) / path.name
    assert path.read_bytes() == source.read_bytes()
    assert not list(folder.rglob("*.part"))


def test_a_worker_that_dies_is_told_and_the_next_try_goes_on(session: Session) -> None:
    with Worker() as worker:

        def kill(now: HandoverNow) -> None:
            if now.files == 2:
                assert worker._child is not None
                worker._child._process.kill()

        with pytest.raises(DeviceError, match="ended by itself"):
            hand(session, worker, flac=True, shown=kill)
        done = hand(session, worker, flac=True)
    assert (done.resumed, done.files) == (True, 4)


def test_what_was_begun_otherwise_is_left_alone(session: Session, worker: Worker) -> None:
    with pytest.raises(StoppedError):
        hand(session, worker, stop=stops_after(2))
    done = hand(session, worker, flac=True)
    assert (done.name, done.resumed) == ("harbour-lights-002", False)
    out = session.folder.parent / "out"
    with pytest.raises(StoppedError):
        hand(session, worker, out=out, stop=stops_after(2))
    with pytest.raises(UseError, match="asked for otherwise; ask for the same"):
        hand(session, worker, out=out, flac=True)
    assert hand(session, worker, out=out).resumed


def test_an_order_that_leads_out_of_its_folder_is_refused(session: Session, worker: Worker) -> None:
    with pytest.raises(StoppedError):
        hand(session, worker, stop=stops_after(1))
    path = layout.handovers(session.folder) / "harbour-lights-001" / ".unfinished" / "order.json"
    path.write_text(path.read_text().replace('"path": "files/', '"path": "../'))
    with pytest.raises(UseError, match=r"damaged .*leads out of its folder"):
        hand(session, worker)


def test_two_cannot_write_one_hand_over(session: Session, worker: Worker) -> None:
    with Worker() as second:

        def other(_: HandoverNow) -> None:
            with pytest.raises(UseError, match="in use by secondpass handover"):
                hand(session, second)

        assert hand(session, worker, shown=other).files == 2


def test_it_is_told_how_far_it_is(session: Session, worker: Worker) -> None:
    told: list[HandoverNow] = []
    hand(session, worker, flac=True, shown=told.append)
    assert [one.files for one in told[:3]] == [0, 2, 3]  # both WAV files, one FLAC after the other
    assert {one.of_files for one in told} == {4}
    assert told[-1].size == told[-1].of_size
    assert told[0].doing.endswith("_close.wav")
