"""The journal is appended to and survives what a crash or a newer program leaves in it."""

import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_cases import NOON, noon, session_with_a_part

from audio.files.lock import is_held
from audio.session import journal, layout
from audio.session.disk import local_now
from audio.session.journal import Entry
from audio.session.lock import lock_session
from audio.vocab.errors import UseError


def test_lines_come_back_in_order_with_their_time(tmp_path: Path) -> None:
    journal.append(tmp_path, "claimed", part="hook", number=1, clock=noon)
    journal.append(tmp_path, "judged", part="hook", number=1, verdict="good", clock=noon)
    assert journal.read(tmp_path) == (
        Entry(at=NOON, event="claimed", facts={"part": "hook", "number": 1}),
        Entry(at=NOON, event="judged", facts={"part": "hook", "number": 1, "verdict": "good"}),
    )


def test_no_journal_is_an_empty_one(tmp_path: Path) -> None:
    assert journal.read(tmp_path) == ()


def test_words_of_a_newer_program_are_kept(tmp_path: Path) -> None:
    layout.journal(tmp_path).write_text(f'{{"at": "{NOON}", "event": "rated", "stars": 5}}\n')
    assert journal.read(tmp_path) == (Entry(at=NOON, event="rated", facts={"stars": 5}),)


def test_every_way_to_tear_the_last_line_loses_that_line_only(tmp_path: Path) -> None:
    journal.append(tmp_path, "claimed", part="é", number=1, clock=noon)
    journal.append(tmp_path, "judged", part="é", number=1, clock=noon)
    path = layout.journal(tmp_path)
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    for length in range(first, len(whole) - 1):
        path.write_bytes(whole[:length])
        assert [e.event for e in journal.read(tmp_path)] == ["claimed"]
        journal.append(tmp_path, "recovered", part="é", number=1, clock=noon)
        assert [e.event for e in journal.read(tmp_path)] == ["claimed", "recovered"]


@given(st.binary(max_size=80))
def test_any_bytes_in_a_journal_never_stop_reading_it(
    tmp_path_factory: pytest.TempPathFactory, junk: bytes
) -> None:
    folder = tmp_path_factory.mktemp("journal")
    layout.journal(folder).write_bytes(junk)
    journal.append(folder, "empty", part="hook", number=1, clock=noon)
    assert journal.read(folder)[-1].event == "empty"


LINES = st.one_of(
    st.sampled_from([
        b'{"at": "noon", "event": "claimed", "part": "hook", "number": 1}',
        b'{"event": "claimed", "at": "noon", "number": 2, "part": "hook", "more": [1]}',
        b'{"at": "noon", "event": "empty", "part": "hook", "number": 3}',
        b'{"at": "noon", "event": "claimed", "part": 4, "number": 4}',
        b'{"at": "noon", "event": "claimed", "part": "hook", "number": "5"}',
        b'{"at": "noon", "event": "claimed", "file": "a.wav"}',
        b'{"at": 6, "event": "claimed", "part": "hook", "number": 6}',
        b'{"event": "claimed", "part": "hook", "number": 7}',
        b'{"at": "noon", "event": "claimed", "part": "hook", "numb',
        b'["claimed"]',
        b"[" * 100_000,
    ]),
    st.binary(max_size=40),
)  # fmt: skip


@given(st.lists(LINES, max_size=8))
def test_the_passes_noted_are_those_of_the_lines_that_can_be_read(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes]
) -> None:
    folder = tmp_path_factory.mktemp("journal")
    layout.journal(folder).write_bytes(b"\n".join(lines))
    expected = {
        (one.facts["part"], one.facts["number"])
        for one in journal.read(folder)
        if one.event == "claimed"
        and isinstance(one.facts.get("part"), str)
        and isinstance(one.facts.get("number"), int)
    }
    assert journal.passes_noted(folder, "claimed") == expected


@given(st.dictionaries(st.sampled_from(["part", "file", "why"]), st.text(), max_size=3))
def test_any_text_is_one_line(
    tmp_path_factory: pytest.TempPathFactory, facts: dict[str, str]
) -> None:
    folder = tmp_path_factory.mktemp("journal")
    journal.append(folder, "part added", clock=noon, **facts)
    assert journal.read(folder) == (Entry(at=NOON, event="part added", facts=facts),)


def test_a_journal_that_cannot_be_used_is_one_sentence(tmp_path: Path) -> None:
    layout.journal(tmp_path).mkdir()
    with pytest.raises(UseError, match=r"journal.jsonl cannot be written"):
        journal.append(tmp_path, "empty", clock=noon)
    with pytest.raises(UseError, match=r"journal.jsonl cannot be read"):
        journal.read(tmp_path)


def test_the_time_carries_its_offset() -> None:
    assert datetime.fromisoformat(local_now()).utcoffset() is not None


# ------------------------------------------------------------------ the lock of a session


def test_the_second_face_is_told_who_has_the_session(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    with lock_session(session.folder, program="secondpass pass", clock=noon):
        assert is_held(layout.face_lock(session.folder))
        with pytest.raises(
            UseError, match=rf"in use by secondpass pass \(.* since {NOON[:10]}"
        ) as caught:
            lock_session(session.folder, program="secondpass add")
        assert "process" in str(caught.value)
        assert len(str(caught.value).splitlines()) == 1
    with lock_session(session.folder, program="secondpass add"):
        pass


def test_the_lock_ends_with_its_process(tmp_path: Path) -> None:
    code = (
        "import sys, pathlib, time\nfrom audio.session.lock import lock_session\n"
        "held = lock_session(pathlib.Path(sys.argv[1]), program='other')\nprint('held', flush=True)\n"
        "sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, tmp_path], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        with pytest.raises(UseError, match=f"in use by other .*process {other.pid}"):
            lock_session(tmp_path, program="mine")
        other.kill()
        other.wait()
        with lock_session(tmp_path, program="mine"):
            pass


def test_a_user_without_a_name_can_hold_the_lock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody() -> str:
        raise KeyError("uid not found")

    monkeypatch.setattr("getpass.getuser", nobody)
    with (
        lock_session(tmp_path, program="mine"),
        pytest.raises(UseError, match="an unnamed user"),
    ):
        lock_session(tmp_path, program="other")


def test_the_session_rooms_load_no_arithmetic() -> None:
    rooms = ["folder", "lock", "passes", "records", "journal", "extend", "model"]
    imports = "; ".join(f"import audio.session.{room}" for room in rooms)
    code = f"{imports}; import sys; print([m for m in ('numpy', 'soundfile') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "[]"
