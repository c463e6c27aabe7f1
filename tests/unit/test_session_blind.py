"""Blind sittings in the journal: kept whole, gone on with after a break, proof against any line there."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from session_cases import NOON, noon, recording, session_with_a_part, tree, variant
from timed import dice

from audio.plan.blind_result import comparisons
from audio.session import journal, layout, records
from audio.session.blind import Sittings, answer, begin, end, sittings
from audio.session.history import history
from audio.session.opened import Session
from audio.session.passes import claim
from audio.vocab.blind import Answer, Mode, Said, SittingNow, may_lie_behind, sitting_problem
from audio.vocab.errors import UseError
from tui.present.blind_words import told_lines

PART = "rhythm-left"
TWO = ("001", "002")
THREE = ("001", "original:close", "di")


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session with two variants and an original."""
    one = session_with_a_part(tmp_path)
    for _ in range(2):
        made = claim(one, PART, clock=noon)
        records.write_variant(made.folder, variant(made.number, part=PART))
    source, facts = recording(tmp_path / "close.wav")
    return one.add_original(PART, source=source, facts=facts, name="close", clock=noon)


def begun(
    session: Session,
    mode: Mode = "pairs",
    sounds: tuple[str, ...] = TWO,
    *,
    planned: int = 6,
    listener: str = "Anna",
    seed: int = 1,
) -> SittingNow:
    return begin(
        session,
        PART,
        mode=mode,
        sounds=sounds,
        listener=listener,
        planned=planned,
        dice=dice(seed),
        clock=noon,
    )


def noted(session: Session) -> list[dict[str, Any]]:
    """The journal's lines about sittings."""
    lines = layout.journal(session.folder).read_text().splitlines()
    return [one for one in map(json.loads, lines) if one["event"].startswith("blind ")]


def rewritten(session: Session, change: Callable[[dict[str, Any]], dict[str, Any] | None]) -> None:
    """Write the journal anew, each line about a sitting as it is changed; None takes it out."""
    lines = map(json.loads, layout.journal(session.folder).read_text().splitlines())
    kept = (change(one) if one["event"].startswith("blind ") else one for one in lines)
    text = "".join(f"{json.dumps(one)}\n" for one in kept if one is not None)
    layout.journal(session.folder).write_text(text)


# ------------------------------------------------------------------ round trip


@pytest.mark.parametrize(
    ("mode", "sounds", "planned", "said"),
    [
        ("pairs", TWO, 6, ["first", "second", "tie", "first", "first", "tie"]),
        ("ranking", THREE, 7, [(1, 2, 3), (1, 1, 1), (3, 2, 1), (2, 1, 2), (1, 2, 3), (1, 2, 3)]),
        ("apart", ("di", "002"), 5, ["a", "b", "tie", "a"]),
    ],
)
def test_what_is_noted_is_read_again_at_every_step(
    session: Session, mode: Mode, sounds: tuple[str, ...], planned: int, said: list[Said]
) -> None:
    known = begun(session, mode, sounds, planned=planned)
    assert (known.sitting.number, known.begun_at, known.state) == (1, NOON, "open")
    assert sittings(session) == (known,)
    for trial, what in enumerate(said, start=1):
        assert known.next_trial is not None
        assert known.next_trial.index == trial
        known = answer(session, 1, trial, what, clock=noon)
        assert known.answers[-1] == Answer(trial=trial, said=what)
        assert sittings(session, part=PART) == (known,)
    assert sittings(session, part="hook") == ()


def test_the_last_answer_ends_a_sitting_and_somebody_may_end_it_earlier(session: Session) -> None:
    begun(session)
    for trial in range(1, 7):
        known = answer(session, 1, trial, "first")
    assert (known.state, known.next_trial, known.ended) == ("complete", None, True)
    begun(session, listener="Ben")
    answer(session, 2, 1, "tie")
    known = end(session, 2)
    assert (known.state, known.next_trial, len(known.answers)) == ("ended early", None, 1)
    assert [one.state for one in sittings(session)] == ["complete", "ended early"]
    ended = [one for one in noted(session) if one["event"] == "blind ended"]
    assert [(one["sitting"], one["early"]) for one in ended] == [(1, False), (2, True)]
    for number in (1, 2):
        with pytest.raises(UseError, match=f"sitting {number} is over; begin another"):
            answer(session, number, 2, "first")
        with pytest.raises(UseError, match="is over"):
            end(session, number)


def test_the_journal_alone_tells_what_lay_behind_each_answer(session: Session) -> None:
    known = begun(session, "ranking", THREE, planned=7)
    for trial in known.trials:
        answer(session, 1, trial.index, (3, 1, 2))
    first, *answers = [one for one in noted(session) if one["event"] != "blind ended"]
    assert first["trials"] == [list(one.behind) for one in known.trials]
    assert (first["listener"], first["mode"], first["planned"]) == ("Anna", "ranking", 7)
    assert [(one["behind"], one["said"]) for one in answers] == [
        (list(one.behind), [3, 1, 2]) for one in known.trials
    ]


def test_a_sitting_that_broke_off_goes_on_with_what_nobody_has_answered(session: Session) -> None:
    before = begun(session, planned=12)
    for trial in (1, 2, 3):
        answer(session, 1, trial, "first")
    (after,) = Sittings().look(session)
    assert after.trials == before.trials
    assert after.next_trial == before.trials[3]
    path = layout.journal(session.folder)
    path.write_bytes(path.read_bytes()[:-20])  # the power failed over the third answer
    (after,) = sittings(session)
    assert after.trials == before.trials
    assert after.next_trial == before.trials[2]
    assert answer(session, 1, 3, "second").next_trial == before.trials[3]
    assert [one.said for one in sittings(session)[0].answers] == ["first", "first", "second"]


def test_a_sitting_is_no_part_of_any_variant_s_history_and_changes_nothing_else(
    session: Session,
) -> None:
    before, told = tree(session.folder), history(session, PART, 1)
    begun(session)
    answer(session, 1, 1, "first")
    end(session, 1)
    after = tree(session.folder)
    assert before.pop("journal.jsonl") != after.pop("journal.jsonl")
    assert before == after
    assert history(session, PART, 1) == told


# ------------------------------------------------------------------ refused


@pytest.mark.parametrize(
    ("mode", "sounds", "planned", "says"),
    [
        ("pairs", ("001",), 6, "one sound alone cannot be compared; choose two or more"),
        ("pairs", ("001", "001"), 6, "a sound stands there twice"),
        ("pairs", ("001", "2"), 6, "'2' names no sound; write a variant such as 003"),
        ("pairs", ("001", "0002"), 6, "names no sound"),
        ("pairs", ("001", "000"), 6, "names no sound"),
        ("pairs", ("001", "٠٠٢"), 6, "names no sound"),
        ("pairs", ("001", "003"), 6, "rhythm-left has no variant 003"),
        ("pairs", ("001", "original:far"), 6, "no original 'far'; it has original:close"),
        ("pairs", ("001", "original:../x"), 6, "has one of"),
        ("pairs", TWO, 5, "5 trials can say nothing, however they are answered; plan 6 or more"),
        ("pairs", THREE, 22, "plan 21 or 24"),
        ("pairs", TWO, 1000, "1000 trials cannot be planned; write 1 to 999"),
        ("pairs", TWO, 0, "0 trials cannot be planned"),
        ("apart", THREE, 5, "3 sounds cannot be told apart at once; choose two"),
        ("apart", TWO, 4, "plan 5 or more"),
        ("ranking", THREE, 6, "plan 7 or more"),
    ],
)
def test_a_sitting_that_cannot_be_is_one_sentence_and_nothing_is_noted(
    session: Session, mode: Mode, sounds: tuple[str, ...], planned: int, says: str
) -> None:
    before = tree(session.folder)
    with pytest.raises(UseError, match=f"^{PART}") as caught:
        begun(session, mode, sounds, planned=planned)
    assert says in str(caught.value)
    assert tree(session.folder) == before


@pytest.mark.parametrize("listener", ["", "  ", "a\x1b[2Jb", "x" * 41, "\udcff"])
def test_a_listener_has_a_name_that_can_be_shown(session: Session, listener: str) -> None:
    with pytest.raises(UseError, match="listener"):
        begun(session, listener=listener)
    assert begun(session, listener=" Anna ").sitting.listener == "Anna"


def test_an_answer_that_cannot_be_is_refused_and_the_first_one_stays(session: Session) -> None:
    begun(session)
    begun(session, "ranking", THREE, planned=7)
    begun(session, "apart", planned=5)
    answer(session, 1, 1, "tie")
    before = tree(session.folder)
    refused: list[tuple[int, int, Said, str]] = [
        (1, 1, "first", "trial 1 is not to be answered; the next one is 2"),
        (1, 7, "first", "trial 7 is not to be answered"),
        (1, 2, "a", "that is no answer here; say first, second or tie"),
        (1, 2, (1, 2), "that is no answer here"),
        (2, 1, (1, 2), "that is no order of A, B, C; give each a rank from 1 to 3"),
        (2, 1, (0, 1, 2), "no order"),
        (2, 1, (1, 2, 4), "no order"),
        (2, 1, "tie", "no order"),
        (3, 1, "first", "say a, b or tie"),
        (4, 1, "first", "there is no sitting 4; begin one"),
    ]
    for number, trial, said, says in refused:
        with pytest.raises(UseError, match="sitting") as caught:
            answer(session, number, trial, said)
        assert says in str(caught.value)
    assert tree(session.folder) == before


# ------------------------------------------------------------------ damaged lines


def test_of_a_line_that_cannot_be_nothing_counts(session: Session) -> None:
    known = begun(session)
    answer(session, 1, 1, "first")
    behind = list(known.trials[1].behind)
    good: dict[str, Any] = {"sitting": 1, "trial": 2, "behind": behind, "said": "first"}
    bad: list[dict[str, Any]] = [
        {"said": "best"}, {"said": None}, {"said": [1, 2]}, {"said": "a"}, {"said": True},
        {"behind": behind[::-1]}, {"behind": ["001", "003"]}, {"behind": "001"}, {"behind": []},
        {"trial": 1}, {"trial": 0}, {"trial": 7}, {"trial": True}, {"trial": "2"}, {"trial": 2.5},
        {"sitting": 2}, {"sitting": True}, {"sitting": "1"}, {"sitting": None}, {"sitting": 10**30},
    ]  # fmt: skip
    for one in bad:
        journal.append(session.folder, "blind answer", **{**good, **one})
    assert [one.trial for one in sittings(session)[0].answers] == [1]
    journal.append(session.folder, "blind answer", **good)
    journal.append(session.folder, "blind answer", **{**good, "said": "second"})
    assert [one.said for one in sittings(session)[0].answers] == ["first", "first"]


@pytest.mark.parametrize(
    "damage",
    [
        {"part": "../x"}, {"part": None}, {"mode": "abx"}, {"sounds": ["001"]}, {"sounds": "001"},
        {"sounds": ["001", "003"]}, {"listener": ""}, {"listener": "a\u202eb"}, {"planned": 5},
        {"planned": -6}, {"planned": True}, {"trials": []}, {"trials": [["001"]] * 6},
        {"trials": [["001", "001"]] * 6}, {"sitting": 0}, {"sitting": -1}, {"sitting": 1.5},
        {"at": "\x1b[2J"}, {"at": 7},
    ],
)  # fmt: skip
def test_a_sitting_whose_beginning_cannot_be_is_none_and_its_number_is_free(
    session: Session, damage: dict[str, Any]
) -> None:
    begun(session)
    answer(session, 1, 1, "first")
    rewritten(session, lambda one: one | damage if one["event"] == "blind begun" else one)
    assert sittings(session) == ()
    known = begun(session, "apart", planned=5)
    assert known.sitting.number == 1
    assert sittings(session) == (known,)


def test_a_second_beginning_of_one_number_changes_nothing(session: Session) -> None:
    known = begun(session)
    again = noted(session)[0]
    again.pop("at"), again.pop("event")
    journal.append(session.folder, "blind begun", **{**again, "trials": [["002", "001"]] * 6})
    assert sittings(session) == (known,)


def test_a_number_far_up_in_the_journal_keeps_nobody_from_sitting_down(session: Session) -> None:
    begun(session)
    rewritten(session, lambda one: one | {"sitting": 999_999_999})
    assert begun(session).sitting.number == 1
    assert [one.sitting.number for one in sittings(session)] == [999_999_999, 1]


def test_an_answer_that_was_lost_leaves_an_ended_sitting_ended_early(session: Session) -> None:
    begun(session)
    for trial in range(1, 7):
        answer(session, 1, trial, "first")
    rewritten(session, lambda one: None if one.get("trial") == 3 else one)
    (known,) = sittings(session)
    assert (known.state, len(known.answers)) == ("ended early", 5)


# ------------------------------------------------------------------ remembered


def test_looking_again_reads_what_is_new_and_sees_every_other_change_too(session: Session) -> None:
    path, kept = layout.journal(session.folder), Sittings()

    def agree() -> tuple[SittingNow, ...]:
        seen = sittings(session, remembered=kept)
        assert seen == sittings(session)
        return seen

    assert agree() == ()
    begun(session)
    assert len(agree()) == 1
    answer(session, 1, 1, "first", remembered=kept)
    assert len(agree()[0].answers) == 1
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])  # torn before its end of line, yet whole
    assert len(agree()[0].answers) == 1
    path.write_bytes(whole[:-9])
    assert len(agree()[0].answers) == 0
    answer(session, 1, 1, "second", remembered=kept)
    assert [one.said for one in agree()[0].answers] == ["second"]
    path.unlink()
    assert agree() == ()
    path.write_bytes(whole)
    assert len(agree()[0].answers) == 1


# ------------------------------------------------------------------ hostile lines

ANY = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-3, 10**25)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.sampled_from([PART, "001", "di", "tie", "first", "\x1b[2J", "../..", "\u202e", "x" * 600])
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=5,
)  # fmt: skip
BEGUN = {
    "event": "blind begun", "part": PART, "mode": "pairs", "sounds": TWO, "listener": "Anna",
    "planned": 2, "trials": [TWO, TWO[::-1]], "trial": 1, "behind": TWO, "said": "first",
}  # fmt: skip
LINES = st.one_of(
    st.fixed_dictionaries(
        {key: st.just(value) for key, value in BEGUN.items()}
        | {
            "at": st.just(NOON),
            "sitting": st.sampled_from([1, 1, 1, 2]),
            "event": st.sampled_from(["blind begun", "blind answer", "blind answer", "blind ended"]),
        },
        optional={"early": ANY},
    )
    .flatmap(
        lambda line: st.one_of(
            st.just(line), st.dictionaries(st.sampled_from(sorted(line)), ANY, max_size=2).map(
                lambda more: line | more
            )
        )
    )
    .map(lambda line: json.dumps(line).encode()),
    st.sampled_from([b'{"event": "blind ', b'"blind begun"', b"[" * 90_000, b'"blind \\ud83d"']),
    st.binary(max_size=20),
)  # fmt: skip


@settings(
    max_examples=40
)  # each writes a journal twice; the benchmark of bad input does it for long
@given(st.lists(LINES, max_size=6), st.integers(0, 6))
def test_whatever_the_journal_holds_what_is_read_of_it_can_be_and_nothing_is_raised(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes], split: int
) -> None:
    one = Session(folder=tmp_path_factory.mktemp("s"), file=None)  # type: ignore[arg-type]
    path, kept = layout.journal(one.folder), Sittings()
    path.write_bytes(b"\n".join(lines[:split]))
    sittings(one, remembered=kept)
    path.write_bytes(b"\n".join(lines))
    seen = sittings(one, remembered=kept)
    assert seen == sittings(one)
    assert msgspec.json.decode(msgspec.json.encode(seen), type=tuple[SittingNow, ...]) == seen
    for known in seen:
        assert sitting_problem(known.sitting) is None
        assert len(known.trials) == known.sitting.planned
        assert all(may_lie_behind(known.sitting, trial.behind) for trial in known.trials)
        assert len({given.trial for given in known.answers}) == len(known.answers)
        assert (known.next_trial is None) == (known.state != "open")
    assert all(line.isprintable() for line in told_lines(comparisons(seen)))
