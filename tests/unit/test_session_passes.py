"""Numbers are claimed once and for ever; each pass folder tells what has become of its pass."""

import threading
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_cases import NOON, facts_of, noon, order, session_with_a_part, variant

from audio.files.lock import FileLock
from audio.session import journal, layout
from audio.session.catalogue import Catalogue
from audio.session.opened import Session
from audio.session.passes import (
    LONGEST_FILE_NAME_BYTES,
    Claim,
    capture_name,
    claim,
    folders,
    state_of,
    undone,
    unfinished,
)
from audio.session.records import (
    read_order,
    read_roll,
    read_variant,
    variants,
    write_order,
    write_variant,
)
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended, Fault, encode
from audio.vocab.names import name_problem


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path)


def claimed(session: Session) -> Claim:
    return claim(session, "rhythm-left", clock=noon)


ENDED = Ended(roll_id=3, reason="quiet", stream_frame=96000, frames=480000)

# ------------------------------------------------------------------ numbers


def test_numbers_count_from_one_and_are_noted(session: Session) -> None:
    first, second = claimed(session), claimed(session)
    assert (first.number, second.number) == (1, 2)
    assert first.folder == session.folder / "passes" / "rhythm-left" / "001"
    assert first.folder.is_dir()
    facts = [e.facts for e in journal.read(session.folder) if e.event == "claimed"]
    assert facts == [{"part": "rhythm-left", "number": n} for n in (1, 2)]


def test_a_number_is_never_used_again_even_if_its_folder_is_gone(session: Session) -> None:
    claimed(session)
    second = claimed(session)
    second.folder.rmdir()
    assert claimed(session).number == 3


def test_a_number_is_never_used_again_even_if_the_journal_is_gone(session: Session) -> None:
    claimed(session)
    layout.journal(session.folder).unlink()
    assert claimed(session).number == 2


def test_what_is_no_number_does_not_disturb_counting(session: Session) -> None:
    parent = layout.part_passes(session.folder, "rhythm-left")
    parent.mkdir(parents=True)
    for name in ("notes", "12b", "-4", "³", "9" * 12, ".5"):
        (parent / name).mkdir()
    (parent / "041").touch()
    assert claimed(session).number == 42


def test_after_999_comes_1000(session: Session) -> None:
    layout.pass_folder(session.folder, "rhythm-left", 999).mkdir(parents=True)
    assert claimed(session).folder.name == "1000"
    assert [one.number for one in folders(session)] == [999, 1000]


def test_claims_that_race_get_numbers_of_their_own(session: Session) -> None:
    start = threading.Barrier(8)
    got: list[int] = []

    def race() -> None:
        start.wait()
        got.append(claimed(session).number)

    threads = [threading.Thread(target=race) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == list(range(1, 9))


def test_only_a_part_of_the_session_can_be_claimed(session: Session) -> None:
    with pytest.raises(UseError, match="its parts are: rhythm-left"):
        claim(session, "../../etc")
    assert not layout.part_passes(session.folder, "rhythm-left").exists()


def test_a_folder_that_cannot_be_made_is_one_sentence(session: Session) -> None:
    layout.passes(session.folder).rmdir()
    layout.passes(session.folder).touch()
    with pytest.raises(UseError, match="cannot be written"):
        claimed(session)


# ------------------------------------------------------------------ names of recordings


def test_a_recording_says_part_number_chain_and_return() -> None:
    name = capture_name("rhythm-left", 7, "Fuzz into Delay", "close")
    assert name == "rhythm-left_007_fuzz-into-delay_close.wav"


part_names = st.text(min_size=1, max_size=80).filter(lambda n: name_problem(n) is None)


@given(part_names, st.integers(1, 10**6), st.text(max_size=300), st.text(max_size=40))
def test_a_recordings_name_is_short_and_safe_whatever_chains_are_called(
    part: str, number: int, chain: str, return_name: str
) -> None:
    name = capture_name(part, number, chain, return_name)
    assert len(name.encode()) <= LONGEST_FILE_NAME_BYTES
    assert name.startswith(f"{part}_{number:03d}_")
    assert name.endswith(".wav")
    assert not set(name.removeprefix(part)) & set('/\\:*?"<>|\0\n')


def test_returns_and_chains_of_long_names_stay_apart() -> None:
    long = "左" * 39
    names = {
        capture_name("p", 1, chain, one)
        for chain in ("x" * 300 + "a", "x" * 300 + "b")
        for one in (long + "一", long + "二")
    }
    assert len(names) == 4


# ------------------------------------------------------------------ what has become of a pass


def test_a_pass_goes_from_claimed_to_done(session: Session) -> None:
    one = claimed(session)
    assert state_of(one.folder) == "claimed"
    write_order(one.folder, order())
    assert state_of(one.folder) == "claimed"
    lock = FileLock(layout.pass_lock(one.folder))
    lock.acquire("engine")
    assert state_of(one.folder) == "still finishing"
    (one.folder / "a.wav").write_bytes(b"RIFF")
    assert state_of(one.folder) == "still finishing"
    layout.roll_json(one.folder).write_bytes(encode(ENDED))
    assert state_of(one.folder) == "still finishing"
    lock.release()
    assert state_of(one.folder) == "finished"
    write_variant(one.folder, variant())
    assert state_of(one.folder) == "done"


def test_a_variant_that_a_crash_left_without_content_is_none(session: Session) -> None:
    layout.variant_json(claimed(session).folder).touch()
    (found,) = unfinished(session)
    assert found.state == "claimed"
    assert variants(session).broken == ()
    assert Catalogue().look(session).broken == ()


def test_recordings_without_record_whose_engine_is_gone_are_torn(session: Session) -> None:
    one = claimed(session)
    lock = FileLock(layout.pass_lock(one.folder))
    lock.acquire("engine")
    (one.folder / "a.wav").write_bytes(b"RIFF")
    lock.release()
    assert state_of(one.folder) == "torn"


def test_a_lock_that_may_not_be_looked_at_is_one_sentence(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path) -> bool:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("audio.session.passes.is_held", refuse)
    with pytest.raises(UseError, match="001 cannot be read: Permission denied; ask for the right"):
        state_of(claimed(session).folder)


def test_unfinished_passes_are_listed_until_judged_or_called_empty(session: Session) -> None:
    empty, torn, done = claimed(session), claimed(session), claimed(session)
    (torn.folder / "a.wav").write_bytes(b"RIFF")
    write_variant(done.folder, variant(3))
    listed = [(one.number, one.state) for one in unfinished(session)]
    assert listed == [(1, "claimed"), (2, "torn")]
    journal.append(session.folder, "empty", part=empty.part, number=1, clock=noon)
    assert [(one.number, one.state) for one in unfinished(session)] == [(2, "torn")]
    # What a pass recorded that was stopped in its opening click: the click, and no DI.
    journal.append(session.folder, "empty", part=torn.part, number=2, clock=noon)
    assert unfinished(session) == ()


def test_a_session_without_passes_has_none_unfinished(session: Session) -> None:
    layout.passes(session.folder).rmdir()
    assert unfinished(session) == ()
    assert variants(session).found == ()


# ------------------------------------------------------------------ records


def test_an_order_reads_back_and_may_be_written_again(session: Session) -> None:
    folder = claimed(session).folder
    write_order(folder, order())
    changed = msgspec.structs.replace(order(), shift_frames=1156)
    write_order(folder, changed)
    assert read_order(folder) == changed


def test_a_variant_is_written_once_in_lines_a_person_can_read(session: Session) -> None:
    folder = claimed(session).folder
    write_variant(folder, variant())
    text = layout.variant_json(folder).read_text()
    assert '\n  "number": 1,\n' in text
    assert text.endswith("}\n")
    assert read_variant(folder) == variant()
    with pytest.raises(UseError, match="is there already and is never replaced"):
        write_variant(folder, variant(2))
    assert layout.variant_json(folder).read_text() == text


def test_fields_of_a_later_program_do_not_stop_reading(session: Session) -> None:
    folder = claimed(session).folder
    write_variant(folder, variant())
    path = layout.variant_json(folder)
    path.write_text(path.read_text().replace('"number": 1,', '"number": 1, "mood": "blue",'))
    assert read_variant(folder) == variant()


def test_the_engines_record_reads_back(session: Session) -> None:
    folder = claimed(session).folder
    layout.roll_json(folder).write_bytes(encode(ENDED))
    assert read_roll(folder) == ENDED


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b'{"say": "Ended"}', b"\xff", encode(Fault(reason="x"))]
)
def test_a_record_that_is_none_is_one_sentence(session: Session, content: bytes) -> None:
    folder = claimed(session).folder
    layout.roll_json(folder).write_bytes(content)
    with pytest.raises(UseError, match=r"roll.json is no record of a roll.*restore it"):
        read_roll(folder)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"{}", b"\xff", b'{"format": "x"}'])
def test_a_damaged_variant_or_order_is_one_sentence(session: Session, content: bytes) -> None:
    folder = claimed(session).folder
    layout.variant_json(folder).write_bytes(content)
    layout.order_json(folder).write_bytes(content)
    for read in (read_variant, read_order):
        with pytest.raises(UseError, match=r"json is damaged .*restore it from a copy"):
            read(folder)


def test_missing_records_are_one_sentence(session: Session) -> None:
    folder = claimed(session).folder
    for read in (read_variant, read_order, read_roll):
        with pytest.raises(UseError, match=r"cannot be read: No such file.*put it back"):
            read(folder)


def test_a_variant_of_a_newer_program_says_to_update(session: Session) -> None:
    folder = claimed(session).folder
    layout.variant_json(folder).write_bytes(b'{"format": 2}')
    with pytest.raises(UseError, match="newer program; update this one"):
        read_variant(folder)


def test_variants_come_in_order_and_broken_ones_stand_apart(session: Session) -> None:
    session = session.add_part(
        source=session.folder.parent / "edit.wav",
        facts=facts_of(session.folder.parent / "edit.wav"),
        name="hook",
    )
    for part in ("rhythm-left", "hook", "hook"):
        one = claim(session, part, clock=noon)
        write_variant(one.folder, variant(one.number, part=part))
    broken = claim(session, "hook", clock=noon)
    layout.variant_json(broken.folder).write_bytes(b"{")
    claim(session, "hook", clock=noon)
    seen = variants(session)
    assert [(v.part, v.number) for v in seen.found] == [
        ("hook", 1),
        ("hook", 2),
        ("rhythm-left", 1),
    ]
    assert [b.folder for b in seen.broken] == ["passes/hook/003"]
    assert "damaged" in seen.broken[0].reason
    assert [v.number for v in variants(session, "rhythm-left").found] == [1]
    assert all(v.made_at == NOON for v in seen.found)
    assert state_of(broken.folder) == "done"


def test_what_is_undone_are_the_folders_without_a_variant(session: Session) -> None:
    done, empty, broken = claimed(session), claimed(session), claimed(session)
    write_variant(done.folder, variant(done.number))
    layout.variant_json(broken.folder).write_bytes(b"{")
    assert undone(session) == (empty,)
    assert [one.folder for one in folders(session)] == [done.folder, empty.folder, broken.folder]
