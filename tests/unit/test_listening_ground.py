"""What rolls when somebody listens: which sounds, what plays under them, and where each file lies."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from listening_cases import RATE, faders
from msgspec.structs import replace
from session_cases import WIRING, facts_of, noon, variant, variant_file
from stamped import write_stamped

from audio.files.inspect import head
from audio.jobs import listening_ground as ground_of
from audio.jobs.listening_ground import NO_OUTPUTS, Ground, listening_ground
from audio.session import layout, passes, records
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.session.opinions import say
from audio.vocab.errors import UseError
from audio.vocab.listening import BACKING, MOST_SOUNDS, OTHERS
from audio.vocab.messages import Span
from audio.vocab.results import SoundHead
from audio.vocab.section import Covers
from audio.vocab.variant import ChainAsSet
from audio.vocab.wiring import Cue
from audio.work.client import Worker

PART, OTHER = "riff", "hook"
FRAMES = 8 * RATE
DI_AT = 100_000
"""Time stamp of the part's newest DI."""
HEARD = replace(WIRING, listen_outputs=(1, 2))


class Reads:
    """Answers as the worker does, without a process."""

    def heads(self, paths: Iterable[str]) -> dict[str, SoundHead]:
        return {path: head(Path(path)) for path in paths}


def ground(session: Session, part: str = PART, **asked: Any) -> Ground:
    wiring = asked.pop("wiring", HEARD)
    return listening_ground(session, cast("Worker", Reads()), wiring, part_name=part, **asked)


def recorded(
    path: Path, *, at: int, frames: int = FRAMES, channels: int = 1, rate: int = RATE
) -> Path:
    codes = np.zeros((frames, channels), dtype=np.int32)
    return write_stamped(path, codes, rate=rate, time_reference=at)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two parts; the first one's newer edit begins 400 frames behind the older one. 120 bpm: 2 s a bar."""
    tmp_path = tmp_path_factory.mktemp("template")
    made = create(tmp_path / "evening", name="evening", song="tide", bpm=120.0, metre="4/4")
    older = recorded(tmp_path / "a.wav", at=DI_AT - 400)
    newer = recorded(tmp_path / "b.wav", at=DI_AT)
    hook = recorded(tmp_path / "hook.wav", at=DI_AT + 5000)
    mic = recorded(tmp_path / "mic.wav", at=DI_AT - 70, channels=2)
    made = made.add_part(source=older, facts=facts_of(older), name=PART, clock=noon)
    made = made.add_revision(PART, source=newer, facts=facts_of(newer), clock=noon)
    made = made.add_original(
        PART, source=mic, facts=facts_of(mic), channel=2, name="close", clock=noon
    )
    return made.add_part(source=hook, facts=facts_of(hook), name=OTHER, clock=noon).folder


@pytest.fixture
def session(template: Path, tmp_path: Path) -> Session:
    return open_session(shutil.copytree(template, tmp_path / "evening"))


def left(session: Session, *, part: str = PART, at: int = DI_AT, frames: int = FRAMES,
         rate: int = RATE, **fields: Any) -> int:  # fmt: skip
    """Leave a variant of two microphones, its files at a frame of the recorder; return its number."""
    claim = passes.claim(session, part, clock=noon)
    files = []
    for at_input, name in enumerate(("close", "room"), start=2):
        path = recorded(claim.folder / f"{part}_{name}.wav", at=at, frames=frames, rate=rate)
        files.append(
            variant_file(
                name, path.relative_to(session.folder).as_posix(), input=at_input, frames=frames
            )
        )
    made = replace(variant(claim.number, part=part), time_reference=at, files=tuple(files),
                   opening_click=(), **fields)  # fmt: skip
    records.write_variant(claim.folder, made)
    return claim.number


# ------------------------------------------------------------------ which sounds


def test_variants_the_newest_first_then_originals_then_the_bare_di(session: Session) -> None:
    left(session, at=DI_AT - 400)
    left(session, at=DI_AT + RATE, frames=2 * RATE,
         covers=Covers(text="bars 2-3", from_frame=RATE, frames=2 * RATE, section_from_frame=RATE,
                       section_to_frame=2 * RATE))  # fmt: skip
    found = ground(session)
    now = found.now
    assert [(one.key, one.title, one.number, one.outside) for one in now.sounds] == [
        ("002", "fuzz", 2, "bars 2-3"),
        ("001", "fuzz", 1, ""),
        ("original:close", "original, close", None, ""),
        ("di", "DI, as it was edited", None, ""),
    ]
    assert [
        [(one.name, one.at_frame, one.channel) for one in sound.layers] for sound in now.sounds
    ] == [
        [("close", RATE, 0), ("room", RATE, 0)],
        [("close", -400, 0), ("room", -400, 0)],
        [("original", -70, 1)],
        [("di", 0, 0)],
    ]
    assert found.said == ()
    assert (now.heard, now.before, now.part, now.sample_rate) == ("002", "002", PART, RATE)
    assert not now.measured


def test_a_sound_is_called_what_somebody_called_it_or_corrected_its_chain_to(
    session: Session,
) -> None:
    for name in ("a", "b", "c"):
        left(session, chain=ChainAsSet(name=name))
    say(session, PART, 1, chain="crunch")
    say(session, PART, 2, called="the big one", chain="crunch")
    assert [one.title for one in ground(session).now.sounds][:3] == ["c", "the big one", "crunch"]


def test_what_was_discarded_does_not_roll(session: Session) -> None:
    left(session)
    left(session)
    say(session, PART, 2, discarded=True)
    assert [one.key for one in ground(session).now.sounds] == ["001", "original:close", "di"]


def test_a_pass_without_a_verdict_does_not_roll(session: Session) -> None:
    left(session)
    passes.claim(session, PART, clock=noon)
    assert ground(session).now.sounds[0].key == "001"


def test_of_very_many_variants_the_newest_roll_and_that_is_told(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert MOST_SOUNDS == 24
    monkeypatch.setattr(ground_of, "MOST_SOUNDS", 3)
    for _ in range(5):
        left(session, frames=100)
    say(session, PART, 5, discarded=True)
    found = ground(session)
    assert [one.key for one in found.now.sounds] == ["004", "003", "002", "original:close", "di"]
    (said,) = found.said
    assert said.startswith("3 variants are listened to at once, the newest ones; discard some")


def test_as_many_as_can_roll_are_told_of_nothing(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ground_of, "MOST_SOUNDS", 3)
    for _ in range(3):
        left(session, frames=100)
    assert ground(session).said == ()


def test_a_sound_of_another_rate_is_left_out_and_says_why(session: Session) -> None:
    left(session)
    left(session, rate=44_100)
    found = ground(session)
    assert [one.key for one in found.now.sounds] == ["001", "original:close", "di"]
    assert found.said == ("fuzz is left out: it is at 44100 Hz and the stream runs at 48000 Hz",)


def test_a_sound_of_which_a_file_is_gone_is_left_out_and_says_why(session: Session) -> None:
    left(session)
    number = left(session, chain=ChainAsSet(name="swell"))
    (layout.pass_folder(session.folder, PART, number) / f"{PART}_room.wav").unlink()
    found = ground(session)
    assert [one.key for one in found.now.sounds] == ["001", "original:close", "di"]
    (said,) = found.said
    assert said.startswith("swell is left out: ")
    assert f"{PART}_room.wav" in said


def test_an_original_that_has_lost_its_channel_is_left_out_and_says_why(session: Session) -> None:
    left(session)
    path = session.path(session.part(PART)[1].originals[0].file)
    write_stamped(path, np.zeros((10, 1), int), rate=RATE, time_reference=DI_AT)
    found = ground(session)
    assert [one.key for one in found.now.sounds] == ["001", "di"]
    assert found.said[0].endswith("has no channel 2 any more")


def test_an_original_that_is_gone_is_left_out_and_says_why(session: Session) -> None:
    left(session)
    session.path(session.part(PART)[1].originals[0].file).unlink()
    found = ground(session)
    assert [one.key for one in found.now.sounds] == ["001", "di"]
    (said,) = found.said
    assert said.startswith("original, close is left out: ")


def test_a_variant_whose_record_is_damaged_is_left_out(session: Session) -> None:
    left(session)
    number = left(session, chain=ChainAsSet(name="swell"))
    record = layout.variant_json(layout.pass_folder(session.folder, PART, number))
    record.write_text(record.read_text().replace('"shift_frames"', '"shift"'))
    assert [one.key for one in ground(session).now.sounds] == ["001", "original:close", "di"]


def test_a_part_without_a_pass_has_its_original_and_its_di(session: Session) -> None:
    assert [one.key for one in ground(session).now.sounds] == ["original:close", "di"]
    assert [one.key for one in ground(session, OTHER).now.sounds] == ["di"]


# ------------------------------------------------------------------ how it begins


def test_the_newest_variant_is_heard_first(session: Session) -> None:
    left(session)
    left(session)
    now = ground(session).now
    assert (now.heard, now.before) == ("002", "002")


def test_balances_stand_as_they_were_left_and_the_passes_tell_of_loudness(session: Session) -> None:
    left(session)
    left(session)
    say(session, PART, 1, balance=faders(room=-6.0))
    now = ground(session).now
    assert now.balances == (("001", faders(room=-6.0)),)
    levels = dict(now.levels)
    assert levels["002"].match_db < levels["001"].match_db == 0.0
    assert levels["di"].loudness_lufs is None


def test_the_whole_part_goes_round_until_the_last_of_it_has_rung_out(session: Session) -> None:
    left(session, at=DI_AT + 300, frames=FRAMES + 9000)
    now = ground(session).now
    assert now.whole == FRAMES + 9300
    assert now.span == Span(start=0, end=FRAMES + 9300)


# ------------------------------------------------------------------ what plays under them


def with_backing(session: Session, folder: Path, **file: Any) -> Session:
    track = recorded(folder / "track.wav", **({"at": DI_AT - 2400, "channels": 2} | file))
    return session.add_backing(None, source=track, facts=facts_of(track), clock=noon)


def test_the_backing_track_lies_by_its_stamp_with_every_channel(
    session: Session, tmp_path: Path
) -> None:
    found = ground(with_backing(session, tmp_path))
    (under,) = found.now.under
    assert (under.name, under.db) == (BACKING, -6.0)
    assert [(one.channel, one.at_frame) for one in under.layers] == [(0, -2400), (1, -2400)]


def test_the_backing_track_is_as_loud_as_players_hear_it(session: Session, tmp_path: Path) -> None:
    wiring = replace(HEARD, cue=Cue(backing_db=-13.0))
    made = with_backing(session, tmp_path)
    assert ground(made, wiring=wiring).now.under[0].db == -13.0
    assert ground(made, wiring=replace(HEARD, cue=Cue())).now.under[0].db == -6.0


def test_a_backing_track_of_another_rate_is_not_heard_and_says_so(
    session: Session, tmp_path: Path
) -> None:
    found = ground(with_backing(session, tmp_path, rate=44_100))
    assert found.now.under == ()
    assert found.said == (
        "the backing track is not heard: it is at 44100 Hz and the stream runs at 48000 Hz",
    )


def test_a_backing_track_that_is_gone_is_not_heard_and_says_so(
    session: Session, tmp_path: Path
) -> None:
    made = with_backing(session, tmp_path)
    backing = made.file.songs[0].backing
    assert backing is not None
    made.path(backing.file).unlink()
    found = ground(made)
    assert found.now.under == ()
    assert found.said[0].startswith("the backing track is not heard: ")


def test_other_parts_keepers_lie_where_they_were_played_balanced_as_they_were_kept(
    session: Session,
) -> None:
    for _ in range(3):
        left(session, part=OTHER, at=DI_AT + 5000)
    say(session, OTHER, 1, keeper=True)
    say(session, OTHER, 2, balance=faders("room", room=-4.0))
    say(session, OTHER, 2, keeper=True)
    say(session, OTHER, 2, balance=faders())  # since then; the keeper stays as it was kept
    (under,) = ground(session).now.under
    assert (under.name, under.db) == (OTHERS, None), "off until somebody turns it up"
    (layer,) = under.layers
    assert layer.path.endswith(f"passes/{OTHER}/002/{OTHER}_room.wav")
    assert (layer.at_frame, layer.gain_db) == (5000, -4.0)


def test_of_other_parts_nothing_is_under_it_that_nobody_kept_and_nothing_of_the_part_itself(
    session: Session,
) -> None:
    left(session, part=OTHER)
    left(session)
    say(session, PART, 1, keeper=True)
    assert ground(session).now.under == ()


def test_another_parts_keeper_that_is_gone_is_not_heard_and_the_part_still_is(
    session: Session,
) -> None:
    left(session, part=OTHER)
    say(session, OTHER, 1, keeper=True)
    (layout.pass_folder(session.folder, OTHER, 1) / f"{OTHER}_close.wav").unlink()
    found = ground(session)
    assert found.now.under == ()
    assert found.said[0].startswith(f"{OTHER} is not heard under it: ")
    assert found.now.sounds


def test_another_part_whose_di_is_gone_is_not_heard_and_the_part_still_is(session: Session) -> None:
    left(session, part=OTHER)
    say(session, OTHER, 1, keeper=True)
    session.path(session.part(OTHER)[1].revisions[-1].file).unlink()
    found = ground(session)
    assert found.now.under == ()
    assert found.said[0].startswith(f"{OTHER} is not heard under it: ")
    assert found.now.sounds


# ------------------------------------------------------------------ refusals


def test_without_an_output_where_people_listen_nothing_rolls(session: Session) -> None:
    with pytest.raises(UseError, match="names no output where people listen; add it on") as caught:
        ground(session, wiring=WIRING)
    assert str(caught.value) == NO_OUTPUTS


def test_a_part_that_is_not_there_is_refused(session: Session) -> None:
    with pytest.raises(UseError, match="no part"):
        ground(session, "solo")


def test_where_nothing_can_be_played_the_first_reason_is_told(session: Session) -> None:
    with pytest.raises(UseError, match="hook has nothing that can be listened to: DI, as it was "
                                       "edited is left out: it is at 48000 Hz and the stream"):  # fmt: skip
        ground(session, OTHER, wiring=replace(HEARD, sample_rate=44_100))


def test_a_part_whose_di_is_gone_is_one_sentence_with_the_way_out(session: Session) -> None:
    left(session)
    session.path(session.part(PART)[1].revisions[-1].file).unlink()
    with pytest.raises(
        UseError, match=r"nothing .* left out: .*r2\.wav cannot be opened: .*;"
    ) as caught:
        ground(session)
    assert "\n" not in str(caught.value)


def test_the_worker_itself_tells_of_the_files_what_is_needed(session: Session) -> None:
    left(session, at=DI_AT - 400)
    worker = Worker()
    worker.start()
    try:
        found = listening_ground(session, worker, HEARD, part_name=PART)
    finally:
        worker.close()
    assert found == ground(session)
