"""A run is what the journal says: folded, whatever the program died over."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from session_cases import noon, session_with_a_part

from audio.files.lock import FileLock
from audio.session import journal, runs
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.findings import Verdict
from audio.vocab.plan import BARE, PlanLine, PlanNow, RunNow, Wanted
from audio.vocab.variant import ChainNamed, Summary

FUZZ = Wanted(key="rhythm-left fuzz", part="rhythm-left", chain="fuzz")
ECHO = Wanted(key="rhythm-left echo", part="rhythm-left", chain="echo")
PLAN = PlanNow(lines=(PlanLine(wanted=FUZZ), PlanLine(wanted=ECHO)))
AFTER_FUZZ = PlanNow(lines=(PlanLine(wanted=FUZZ, state="done"), PlanLine(wanted=ECHO)))

KEPT = "what was recorded is kept and judged"


def variant(verdict: Verdict, *, number: int = 1, wanted: Wanted = FUZZ) -> Summary:
    return Summary(
        number=number,
        part=wanted.part,
        chain=ChainNamed(name=wanted.chain),
        state="kept",
        verdict=verdict,
        findings=(),
        made_at=noon(),
        files=(),
    )


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path)


@pytest.fixture
def held(session: Session) -> FileLock:
    """The session's lock, as the program that runs it has it."""
    return lock_session(session.folder, program="test")


def begin(session: Session, *, repeat_redo: bool = False) -> RunNow:
    runs.begin(session, runs.run_now(session, PLAN), repeat_redo=repeat_redo)
    return runs.run_now(session, PLAN)


def played(
    session: Session, verdict: Verdict, *, plan: PlanNow = AFTER_FUZZ, wanted: Wanted = FUZZ
) -> RunNow:
    runs.start_line(session, 1, wanted.key, wanted)
    one = variant(verdict, wanted=wanted)
    runs.note_pass(session, 1, wanted, variant=one, took_s=61.24, text="Hum is up on close.")
    return runs.run_now(session, plan)


def test_without_a_line_in_the_journal_there_is_no_run(session: Session) -> None:
    assert runs.run_now(session, PLAN) == RunNow()


def test_a_run_goes_from_card_to_card_to_its_end(session: Session, held: FileLock) -> None:
    with held:
        run = begin(session)
        assert (run.state, run.number, run.at) == ("waiting", 1, FUZZ.key)
        runs.start_line(session, 1, FUZZ.key, FUZZ)
        run = runs.run_now(session, PLAN)
        assert (run.state, run.at) == ("playing", FUZZ.key)
        run = played(session, "good")
        assert (run.state, run.at, run.looks) == ("waiting", ECHO.key, ())
        runs.end(session, 1)
        assert runs.run_now(session, AFTER_FUZZ) == RunNow(state="ended", number=1)
        assert begin(session).number == 2


def test_the_journal_has_what_a_pass_of_a_run_took(session: Session, held: FileLock) -> None:
    with held:
        begin(session)
        played(session, "good")
    (one,) = journal.told(session.folder, ("run pass",))
    assert one.facts == {
        "run": 1, "key": FUZZ.key, "part": "rhythm-left", "number": 1, "verdict": "good",
        "took_s": 61.2, "text": "Hum is up on close.",
    }  # fmt: skip


def test_looks_are_collected_and_a_redo_holds_the_run_with_its_reason(
    session: Session, held: FileLock
) -> None:
    with held:
        begin(session)
        run = played(session, "look")
        assert run.looks == ("rhythm-left 001 through fuzz: Hum is up on close.",)
        run = played(session, "redo", wanted=ECHO)
        assert (run.state, run.reason) == (
            "held",
            "rhythm-left 001 through echo: Hum is up on close.",
        )
        assert len(run.looks) == 1, "what was collected stays"
        run = begin(session)
        assert (run.state, run.number, run.reason) == ("waiting", 1, "")
        assert len(run.looks) == 1, "the same run goes on"


def test_one_repeat_may_be_asked_for_and_somebody_who_goes_on_gets_another(
    session: Session, held: FileLock
) -> None:
    with held:
        assert begin(session, repeat_redo=True).repeat_redo
        run = played(session, "redo", plan=PLAN)
        assert (run.state, run.at, run.repeated) == ("waiting", FUZZ.key, True)
        run = played(session, "redo", plan=PLAN)
        assert run.state == "held"
        run = begin(session, repeat_redo=True)
        assert (run.state, run.at, run.repeated) == ("waiting", FUZZ.key, False)


def test_the_bare_path_is_played_and_the_card_after_it_is_the_plans(
    session: Session, held: FileLock
) -> None:
    with held:
        begin(session)
        runs.start_line(session, 1, BARE, None)
        run = runs.run_now(session, PLAN)
        assert (run.state, run.at) == ("playing", BARE)
        runs.bare_known(session, 1)
        run = runs.run_now(session, PLAN)
        assert (run.state, run.at) == ("waiting", FUZZ.key)


@pytest.mark.parametrize(
    ("key", "wanted", "said"),
    [
        ("", None, "the program ended between two passes; nothing has sounded since"),
        (
            FUZZ.key,
            FUZZ,
            f"the program ended while rhythm-left through fuzz was played; {KEPT}",
        ),
        (BARE, None, "the program ended while the bare path was measured; nothing is lost"),
    ],
)
def test_a_run_that_nobody_runs_is_held_and_says_what_its_program_died_over(
    session: Session, held: FileLock, key: str, wanted: Wanted | None, said: str
) -> None:
    with held:
        begin(session)
        if key:
            runs.start_line(session, 1, key, wanted)
        assert runs.run_now(session, PLAN).state == ("playing" if key else "waiting")
    run = runs.run_now(session, PLAN)
    assert (run.state, run.reason, run.at) == ("held", said, FUZZ.key)
    with lock_session(session.folder, program="the next one"):
        runs.take_up(session)
        assert runs.run_now(session, PLAN) == run
        lines = journal.read(session.folder)
        runs.take_up(session)
        assert journal.read(session.folder) == lines, "a held run is not held again"


def test_a_look_judged_after_the_program_had_died_is_collected(
    session: Session, held: FileLock
) -> None:
    with held:
        begin(session)
        runs.start_line(session, 1, FUZZ.key, FUZZ)
    done = PlanLine(wanted=FUZZ, state="done", number=7, verdict="look")
    run = runs.run_now(session, PlanNow(lines=(done, PlanLine(wanted=ECHO))))
    assert (run.at, run.looks) == (ECHO.key, ("rhythm-left 007 through fuzz",))


@pytest.mark.parametrize(
    "line",
    [
        {"event": "run begun"},
        {"event": "run begun", "run": "one"},
        {"event": "run begun", "run": True},
        {"event": "run pass", "run": 1, "key": 3, "verdict": "splendid"},
        {"event": "run held", "run": None, "reason": 4},
        {"event": "run flown", "run": 1},
    ],
)
def test_lines_that_are_none_of_a_run_change_nothing(
    session: Session, held: FileLock, line: dict[str, object]
) -> None:
    with held:
        before = begin(session)
        with (session.folder / "journal.jsonl").open("a") as file:
            file.write(json.dumps({"at": noon(), **line}) + "\n")
        assert runs.run_now(session, PLAN) == before
