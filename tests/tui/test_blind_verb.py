"""``secondpass blind``: what it tells of sittings, as text and as JSON, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest
from installed import Ran, listing, run
from needs import needs_samples
from timed import dice
from told_sessions import PART, session_of

from audio.plan.blind_result import Comparison
from audio.session import layout
from audio.session.blind import answer, begin, end
from audio.session.lock import lock_session
from audio.session.opened import Session

pytestmark = needs_samples()


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """Two variants; Anna has compared them, Ben has ended early, Cleo is at it."""
    one = session_of(tmp_path_factory.mktemp("evening"), 2)
    for number, (listener, answers) in enumerate((("Anna", 8), ("Ben", 6), ("Cleo", 3)), start=1):
        sat = begin(
            one,
            PART,
            mode="pairs",
            sounds=("001", "002"),
            listener=listener,
            planned=8,
            dice=dice(number),
        )
        for trial in sat.trials[:answers]:
            answer(one, number, trial.index, "first" if trial.behind[0] == "002" else "second")
    end(one, 2)
    return one


def blind(session: Session, *words: str) -> Ran:
    return run("blind", session.folder.name, *words, folder=session.folder.parent)


def test_it_tells_what_was_preferred_by_each_listener_then_by_all(session: Session) -> None:
    before = layout.journal(session.folder).read_bytes()
    with lock_session(session.folder, program="secondpass open"):
        ran = blind(session, "--part", PART)
    assert (ran.code, ran.err) == (0, "")
    told = " ".join(ran.out.split())
    assert told.startswith(
        "riff: 001, 002, in pairs Anna: 8 answers 002 preferred to 001 in 8 of 8 answers: that would be"
        " chance in 1 of 128 (p 0.0078): preferred Ben: 6 answers; ended early"
    )
    assert (
        "all 2 together, every answer alike: 14 answers in 2 sittings; 1 of them ended early"
        in told
    )
    assert "Cleo, sitting 3: 3 of 8 answered; told when all are in" in told
    assert layout.journal(session.folder).read_bytes() == before


def test_json_is_one_object_with_every_figure_and_nothing_of_an_open_sitting(
    session: Session,
) -> None:
    told = json.loads(blind(session, "--json").out)
    assert told["session"] == str(session.folder)
    (one,) = msgspec.convert(told["comparisons"], tuple[Comparison, ...])
    assert [each.listener for each in one.listeners] == ["Anna", "Ben"]
    pair = told["comparisons"][0]["listeners"][0]["pairs"][0]
    assert (pair["sounds"], pair["wins"]) == (["002", "001"], [8, 0])
    assert pair["p"] == 2 / 2**8  # all of eight, either way
    assert told["comparisons"][0]["together"]["pairs"][0]["wins"] == [14, 0]
    assert told["comparisons"][0]["withheld"] == [
        {"number": 3, "listener": "Cleo", "answered": 3, "planned": 8}
    ]


def test_one_listener_is_told_alone_capitals_or_not(session: Session) -> None:
    ran = blind(session, "--listener", "anna")
    assert ran.code == 0, ran.err
    assert "Anna: 8 answers" in ran.out
    assert "Ben" not in ran.out
    assert "together" not in ran.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--part", "hook"), "there is no part 'hook'; its parts are: riff"),
        (
            ("--listener", "Dora"),
            "'Dora' has not sat down to listen blind; those who did are: Anna",
        ),
        (("--listener", "\x1b[2J"), "has not sat down"),
        (("--part",), "expected one argument"),
        (("--mode", "pairs"), "unrecognized arguments"),
    ],
)
def test_what_cannot_be_told_is_one_sentence(
    session: Session, words: tuple[str, ...], says: str
) -> None:
    before = listing(session.folder)
    ran = blind(session, *words)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert "\x1b" not in ran.err
    assert "Traceback" not in ran.err
    assert listing(session.folder) == before


def test_where_nobody_has_listened_it_says_so_and_a_folder_that_is_no_session_is_refused(
    tmp_path: Path,
) -> None:
    empty = session_of(tmp_path, 1)
    assert blind(empty).out == "Nobody has listened blind yet.\n"
    assert json.loads(blind(empty, "--json").out)["comparisons"] == []
    assert "nobody has yet" in blind(empty, "--listener", "Anna").err
    assert run("blind", "elsewhere", folder=tmp_path).code == 2
