"""``secondpass choices``: what it writes, what it prints, how it exits, which session it means."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from installed import COMMAND, Ran, environment, run
from needs import needs_samples
from told_sessions import PART, session_of
from unit.choice_cases import NAME, OTHER_TOKEN, TOKEN, choice_text, quoted, smart, wrapped

from audio.jobs.choices import choices as read_in
from audio.session import journal
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab.errors import UseError

pytestmark = needs_samples()

ANA = choice_text({PART: ("002", "001")}, words={PART: "more bite, it's right"})
BEN = choice_text({PART: ("002",)}, listener="Ben", blind=False)
CLEO = choice_text({PART: ()}, listener="Cleo", words={PART: "all too dark"})


@pytest.fixture
def session(tmp_path: Path) -> Session:
    one = session_of(tmp_path, 3)
    facts = {"name": NAME, "token": TOKEN, "sounds": {PART: [1, 2, 3]}}
    journal.append(one.folder, "handed over", **facts)
    return one


def choices(session: Session, text: str | None, *words: str) -> Ran:
    """Run the verb beside the session with a text beside it."""
    folder = session.folder.parent
    if text is not None:
        (folder / "mail.txt").write_text(text, encoding="utf-8")
    file = () if text is None else ("mail.txt",)
    return run("choices", *file, "--session", session.folder.name, *words, folder=folder)


def spoken(ran: Ran) -> dict[str, Any]:
    value = json.loads(ran.out)
    assert isinstance(value, dict)
    return value


def squeezed(ran: Ran) -> list[str]:
    return [" ".join(line.split()) for line in ran.out.splitlines() if line]


# ------------------------------------------------------------------ told


def test_choices_of_a_mail_are_noted_and_told_in_a_table(session: Session) -> None:
    mail = EmailMessage()
    mail["From"] = "ana@example.org"
    mail.set_content(f"Hi!\n\n{ANA}\nBen says:\n{quoted(BEN)}\n{quoted(CLEO)}", cte="base64")
    (session.folder / "mail.eml").write_bytes(mail.as_bytes())
    ran = run("choices", "mail.eml", folder=session.folder)
    assert (ran.code, ran.err) == (0, "")
    assert squeezed(ran)[:-2] == [
        f"noted: Ben, of {NAME}: {PART} 002",
        f"noted: Cleo, blind, of {NAME}: {PART} nothing",
        f"noted: Ana, blind, of {NAME}: {PART} 002, 001",
        f"{PART}, of {NAME}",
        "002 first Ana (blind), Ben",
        "001 second Ana (blind)",
        "003 nobody",
        "nothing Cleo (blind)",
        "Cleo: “all too dark”",
        "Ana: “more bite, it's right”",
    ]
    folder = str(session.folder)
    assert squeezed(ran)[-2:] == [
        "nothing is kept by this, you decide: ! at the variants on the screen, or",
        f'secondpass note {folder} --part P --number N --keep "why"',
    ]


def test_read_again_nothing_changes_and_that_is_said(session: Session) -> None:
    assert choices(session, ANA).code == 0
    before = (session.folder / "journal.jsonl").read_bytes()
    ran = choices(session, f"> {smart(wrapped(ANA, 40))}")
    assert ran.code == 0
    assert ran.out.startswith(f"already in the journal: Ana, blind, of {NAME}: {PART} 002, 001\n")
    assert (session.folder / "journal.jsonl").read_bytes() == before


def test_in_an_answer_to_an_answer_the_newest_choice_counts(session: Session) -> None:
    later = choice_text({PART: ("003",)})
    assert choices(session, f"sorry, this one:\n{later}\n\nAna wrote:\n{quoted(ANA)}").code == 0
    assert [one.number for one in opinions(session) if one.choices] == [3]


def test_json_is_one_object_with_all_of_it(session: Session) -> None:
    told = spoken(choices(session, ANA + BEN.replace("Ben", "Bob") + CLEO, "--json"))
    assert told["session"] == str(session.folder)
    assert [one["listener"] for one in told["noted"]] == ["Ana", "Cleo"]
    assert told["noted"][0] == {
        "name": NAME,
        "token": TOKEN,
        "listener": "Ana",
        "blind": True,
        "chosen": {PART: ["002", "001"]},
        "words": {PART: "more bite, it's right"},
        "checksum": ANA.split()[-1],
    }
    assert [one["at"] for one in told["refused"]] == [2]
    (part,) = told["parts"]
    assert (part["part"], part["name"], part["token"]) == (PART, NAME, TOKEN)
    assert part["sounds"][0] == {
        "sound": "002",
        "chosen_by": [{"listener": "Ana", "place": 1, "blind": True}],
    }
    assert part["nothing"] == [{"listener": "Cleo", "place": 0, "blind": True}]
    assert {"listener": "Cleo", "words": "all too dark"} in part["said"]


def test_without_a_file_all_choices_so_far_are_told_and_nothing_is_locked(session: Session) -> None:
    with lock_session(session.folder, program="secondpass open"):
        none = choices(session, None)
    assert none.code == 0
    assert "nobody has sent a choice yet; read one with `secondpass choices FILE`" in none.out
    choices(session, ANA)
    told = spoken(choices(session, None, "--json"))
    assert (told["noted"], told["already"], told["refused"]) == ([], [], [])
    assert told["parts"][0]["sounds"][0]["sound"] == "002"


def test_what_was_chosen_stands_at_the_variant(session: Session) -> None:
    choices(session, ANA + BEN)
    ran = run("note", str(session.folder), "--part", PART, "--number", "2", folder=session.folder)
    lines = squeezed(ran)
    assert "chosen by Ana, Ben" in lines
    assert "chosen first by Ana, blind: “more bite, it's right”" in lines
    assert lines[-1].endswith("chosen first by Ben")


# ------------------------------------------------------------------ refused


def test_of_good_and_bad_ones_the_good_are_noted_and_the_bad_are_told(session: Session) -> None:
    foreign = choice_text({PART: ("001",)}, token=OTHER_TOKEN)
    ran = choices(session, f"{BEN.replace('002', '001')}\n{ANA}\n{foreign}")
    assert ran.code == 1
    assert "noted: Ana" in ran.out
    first, second = ran.lines
    assert first.startswith("secondpass: choice 1 was not noted: it was changed or cut on its way")
    assert second.startswith("secondpass: choice 3 was not noted: it belongs to another session")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "mail.txt: there is no choice in it; one begins with a line ‘secondpass choice’"),
        ("hello", "there is no choice in it"),
        (ANA.replace("bite", "bit"), "mail.txt, choice 1: it was changed or cut on its way"),
        (ANA.partition("end of")[0], "it has no line ‘end of choice’"),
        (choice_text({PART: ("004",)}), f"{PART} 004 was not in the hand-over {NAME}"),
        (choice_text({PART: ("001",)}, name="else-001"), "another session or hand-over"),
        (choice_text({"hook": ("001",)}), "‘hook: 001’ begins with no part of this session"),
        (choice_text({PART: ("001",)}, listener="A\u202eB"), "hidden character"),
        ("secondpass choice\n" * 300, "holds over 200 choices; split it into several files"),
        ("x" * 10_000_001, "mail.txt is larger than 10 MB; save the mail without what"),
    ],
    ids=range(10),
)
def test_where_nothing_can_be_read_nothing_is_changed(
    session: Session, text: str, says: str
) -> None:
    file = session.folder / "mail.txt"
    file.write_text(text, encoding="utf-8")
    before = (session.folder / "journal.jsonl").read_bytes()
    with pytest.raises(UseError, match=says):
        read_in(file)
    assert (session.folder / "journal.jsonl").read_bytes() == before


def test_where_nothing_can_be_read_the_exit_code_is_2_and_no_object_is_printed(
    session: Session,
) -> None:
    ran = choices(session, f"{ANA.replace('bite', 'bit')}\n{BEN.replace('Ben', 'Bob')}", "--json")
    assert (ran.code, ran.out) == (2, "")
    first, second = ran.lines
    assert first.startswith("secondpass: mail.txt, choice 1: it was changed or cut on its way")
    assert second.startswith("mail.txt, choice 2: it was changed or cut")


def test_a_session_in_use_is_refused_and_told_by_whom(session: Session) -> None:
    held = lock_session(session.folder, program="secondpass open")
    with held, pytest.raises(UseError, match="secondpass open"):
        read_in(ANA.encode(), folder=session.folder)


# ------------------------------------------------------------------ which session, which file


def test_the_session_is_the_one_the_file_lies_in_else_the_one_that_is_stood_in(
    session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deep, elsewhere = session.folder / "handover" / NAME, tmp_path / "elsewhere"
    for folder, text in ((deep, ANA), (elsewhere, BEN)):
        folder.mkdir(parents=True)
        (folder / "mail.txt").write_text(text, encoding="utf-8")
    monkeypatch.chdir(elsewhere)
    assert [one.listener for one in read_in(deep / "mail.txt").noted] == ["Ana"]
    says = "neither the file nor the current folder lies in one; name it with --session DIR"
    for source in (Path("mail.txt"), BEN.encode(), None):
        with pytest.raises(UseError, match=says):
            read_in(source)
    monkeypatch.chdir(deep)
    assert [one.listener for one in read_in(elsewhere / "mail.txt").noted] == ["Ben"]
    assert [one.listener for one in read_in(BEN.encode()).already] == ["Ben"]


def test_standard_input_is_read_to_its_end(session: Session) -> None:
    ran = subprocess.run(
        [COMMAND, "choices", "-"],
        cwd=session.folder,
        input=ANA.encode(),
        capture_output=True,
        env=environment(session.folder.parent),
        check=False,
        timeout=60,
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert b"noted: Ana" in ran.stdout


def test_waiting_for_standard_input_ends_on_ctrl_c(session: Session) -> None:
    waiting = subprocess.Popen(
        [COMMAND, "choices", "-"],
        cwd=session.folder,
        stdin=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(session.folder.parent),
    )
    with waiting:
        end = time.monotonic() + 20
        tasks = Path(f"/proc/{waiting.pid}/task")
        while len(list(tasks.iterdir())) < 2:  # the thread that reads
            assert time.monotonic() < end, "it never came"
            time.sleep(0.01)
        waiting.send_signal(signal.SIGINT)
        assert waiting.wait(20) == 130


@pytest.mark.parametrize(
    ("name", "says"),
    [("pipe", "a device or a pipe"), ("none", "No such file"), ("di", "name a file in it")],
)
def test_what_is_no_file_is_refused_and_not_waited_for(
    session: Session, name: str, says: str
) -> None:
    os.mkfifo(session.folder / "pipe")
    with pytest.raises(UseError, match=says):
        read_in(session.folder / name)
