"""What is said of variants: kept in the journal alone, folded, and proof against any line there."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_cases import NOON, noon, session_with_a_part, tree, variant

from audio.plan.keepers import keepers_of
from audio.session import journal, layout, opinions, records
from audio.session.chains import Chains
from audio.session.history import Histories, history
from audio.session.opened import Session
from audio.session.opinions import Opinions, opinion_of, say
from audio.session.passes import claim
from audio.vocab.balance import HIGHEST_DB, LOWEST_DB, Balance, Fader, balance_problem, heard_db
from audio.vocab.chain import Chain, ChainFile, Pedal
from audio.vocab.errors import UseError
from audio.vocab.opinion import Keeper, Opinion
from audio.vocab.variant import Variant, VariantFile

PART = "rhythm-left"
BLEND = Balance(faders=(Fader(name="close"), Fader(name="room", db=-6.0)))


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session with two variants."""
    one = session_with_a_part(tmp_path)
    for _ in range(2):
        made = claim(one, PART, clock=noon)
        records.write_variant(made.folder, two_microphones(made.number))
    return one


def two_microphones(number: int) -> Variant:
    files = tuple(
        VariantFile(
            return_name=name,
            input=2 + at,
            path=f"passes/{PART}/{number:03d}/{name}.wav",
            frames=9,
            audio_sha256="cd" * 32,
            peak_dbfs=-12.0,
            clipped_runs=0,
            loudness_lufs=None,
            polarity="normal",
            extra_delay_frames=None,
            noise_dbfs=None,
            hum_hz=None,
            hum_dbfs=None,
        )
        for at, name in enumerate(("close", "room"))
    )
    clicks = msgspec.structs.replace(variant(number, part=PART), opening_click=())
    return msgspec.structs.replace(clicks, files=files)


def told(session: Session, number: int) -> list[str]:
    return [one.text for one in history(session, PART, number)]


# ------------------------------------------------------------------ said and folded


def test_the_last_word_of_each_kind_counts_and_words_and_photos_add_up(session: Session) -> None:
    say(session, PART, 1, rating=2, words="too much low end", clock=noon)
    say(session, PART, 1, rating=4, photo="IMG_0412.jpg", clock=noon)
    say(session, PART, 1, words="  fits the chorus ", called="the big one", clock=noon)
    say(session, PART, 1, photo="IMG_0412.jpg", chain="fuzz into spring", clock=noon)
    assert opinions.opinions(session) == (
        Opinion(
            part=PART,
            number=1,
            rating=4,
            words=("too much low end", "fits the chorus"),
            photos=("IMG_0412.jpg",),
            called="the big one",
            chain="fuzz into spring",
        ),
    )


def test_everything_but_words_and_photos_can_be_taken_back(session: Session) -> None:
    say(session, PART, 2, rating=5, called="x", chain="y", discarded=True)
    say(session, PART, 2, rating=0, called="", chain="", discarded=False)
    assert opinion_of(session, PART, 2) == Opinion(part=PART, number=2)


def test_a_corrected_chain_that_has_a_file_is_noted_with_what_the_file_says(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    fuzz = Chain(name="Fuzz", pedals=(Pedal(name="fuzz", knobs={"gain": "2:30"}),))
    known = Chains(found=(ChainFile(chain=fuzz, file="chains/fuzz.yaml"),), problems=())
    monkeypatch.setattr(opinions, "chains", lambda _: known)
    say(session, PART, 1, chain="Fuzz")
    said = opinion_of(session, PART, 1)
    assert said.chain == "Fuzz"
    assert said.chain_content is not None
    assert "name" not in said.chain_content
    assert said.chain_content["pedals"][0]["knobs"] == {"gain": "2:30"}
    say(session, PART, 1, chain="something without a file")
    assert opinion_of(session, PART, 1).chain_content is None


def test_nothing_said_changes_a_number_a_file_or_what_was_measured(session: Session) -> None:
    before = tree(session.folder)
    say(session, PART, 1, rating=1, words="no", called="other", chain="other", discarded=True)
    after = tree(session.folder)
    assert before.pop("journal.jsonl") != after.pop("journal.jsonl")
    assert before == after


def test_the_number_of_a_discarded_variant_is_never_used_again(session: Session) -> None:
    say(session, PART, 2, discarded=True)
    assert claim(session, PART).number == 3
    layout.pass_folder(session.folder, PART, 3).rmdir()
    say(session, PART, 1, discarded=True)
    assert claim(session, PART).number == 4


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"rating": 6}, "6 is no rating; rate from 1 to 5"),
        ({"rating": -1}, "-1 is no rating"),
        ({"words": "  "}, "there are no words"),
        ({"words": "two\nlines"}, "type one line"),
        ({"words": "x" * 501}, "501 characters long; say it in 500"),
        ({"words": "left\u202eright"}, "hidden character"),
        ({"photo": "../desk.jpg"}, "a file's name; give the name alone"),
        ({"photo": "C:desk.jpg"}, "a file's name"),
        ({"photo": ".."}, "a file's name"),
        ({"photo": "a\\b.jpg"}, "a file's name"),
        ({"photo": ""}, "the photo has no name"),
        ({"called": " "}, "the variant has no name"),
        ({"called": "x" * 81}, "longer than 80 characters"),
        ({"chain": "a\x1b[2Jb"}, "hidden character"),
        ({"keeper": True, "reason": "two\nlines"}, "type one line"),
        ({"keeper": True, "reason": "x" * 501}, "501 characters long"),
        ({"reason": "fits"}, "it is no keeper that could have a reason; keep it"),
        ({"keeper": False, "reason": "fits"}, "it is no keeper that could have a reason"),
        ({"keeper": True, "discarded": True}, "a keeper is not discarded; say first that"),
        (
            {"balance": Balance(faders=(Fader(name="rom"),))},
            "it has no microphone 'rom'; those it has: close and room",
        ),
        ({"balance": Balance(solo=("ribbon",))}, "it has no microphone 'ribbon'"),
        ({"balance": Balance(faders=(Fader(name="room", db=3.0),))}, "they go from -40 to 0 dB"),
        ({"balance": Balance(faders=(Fader(name="room", db=float("nan")),))}, "a fader of nan dB"),
        ({"balance": Balance(faders=(Fader(name="room"),) * 2)}, "has two faders"),
        ({}, "nothing is said of it"),
    ],
)
def test_what_cannot_be_said_is_one_sentence_and_nothing_is_noted(
    session: Session, said: dict[str, Any], words: str
) -> None:
    before = tree(session.folder)
    with pytest.raises(UseError, match=f"{PART} 001: ") as caught:
        say(session, PART, 1, **{"rating": 3, **said} if said else said)
    assert words in str(caught.value)
    assert tree(session.folder) == before


@pytest.mark.parametrize("number", [0, -1, 3, 10**9, 10**30])
def test_of_a_variant_that_is_not_there_nothing_can_be_said(session: Session, number: int) -> None:
    claim(session, PART)
    with pytest.raises(UseError, match="has no variant"):
        say(session, PART, number, rating=3)
    with pytest.raises(UseError, match="no part"):
        say(session, "../elsewhere", 1, rating=3)


# ------------------------------------------------------------------ kept


def test_a_keeper_has_its_reason_and_the_balance_of_the_moment_it_was_kept(
    session: Session,
) -> None:
    say(session, PART, 1, balance=BLEND)
    say(session, PART, 1, keeper=True, reason=" sits in the mix ")
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="sits in the mix", balance=BLEND)
    later = Balance(faders=(Fader(name="room", db=None),), solo=("close",))
    say(session, PART, 1, balance=later)
    said = opinion_of(session, PART, 1)
    assert said.balance == later
    assert said.keeper == Keeper(reason="sits in the mix", balance=BLEND)
    say(session, PART, 1, reason="the chorus")
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="the chorus", balance=BLEND)
    say(session, PART, 1, keeper=True)
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="the chorus", balance=later)
    say(session, PART, 1, reason="")
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="", balance=later)
    say(session, PART, 1, keeper=False)
    assert opinion_of(session, PART, 1) == Opinion(part=PART, number=1, balance=later)


def test_a_keeper_whose_microphones_nobody_balanced_stands_as_it_was_recorded(
    session: Session,
) -> None:
    say(session, PART, 2, keeper=True)
    assert opinion_of(session, PART, 2).keeper == Keeper(reason="", balance=Balance())
    say(session, PART, 2, balance=BLEND, keeper=True)
    assert opinion_of(session, PART, 2).keeper == Keeper(reason="", balance=BLEND)


def test_several_of_a_part_are_kept_and_told_by_number_in_whatever_order_they_were_kept(
    session: Session,
) -> None:
    assert keepers_of(opinions.opinions(session), PART) == ()
    say(session, PART, 2, keeper=True)
    say(session, PART, 1, keeper=True)
    assert keepers_of(opinions.opinions(session), PART) == (1, 2)
    assert keepers_of(opinions.opinions(session), "another") == ()
    say(session, PART, 1, keeper=False)
    assert keepers_of(opinions.opinions(session), PART) == (2,)


def test_a_keeper_is_discarded_only_once_it_is_kept_no_more_and_keeping_brings_back_into_sight(
    session: Session,
) -> None:
    say(session, PART, 1, discarded=True)
    say(session, PART, 1, keeper=True, reason="after all", clock=noon)
    assert opinion_of(session, PART, 1).discarded is False
    assert told(session, 1)[-1] == "kept: after all; taken back into sight"
    with pytest.raises(UseError, match="a keeper is not discarded; say first that it is not kept"):
        say(session, PART, 1, discarded=True)
    assert opinion_of(session, PART, 1).keeper is not None
    say(session, PART, 1, keeper=False, discarded=True)
    assert opinion_of(session, PART, 1) == Opinion(part=PART, number=1, discarded=True)


def test_a_variant_whose_file_is_damaged_can_be_kept_but_not_balanced(session: Session) -> None:
    layout.variant_json(layout.pass_folder(session.folder, PART, 1)).write_bytes(b"{")
    say(session, PART, 1, keeper=True, reason="from memory")
    with pytest.raises(UseError, match=r"variant\.json is damaged"):
        say(session, PART, 1, balance=BLEND)
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="from memory", balance=Balance())


def line(session: Session, **facts: Any) -> None:
    journal.append(session.folder, "said", part=PART, number=1, clock=noon, **facts)


@pytest.mark.parametrize(
    ("written", "counts"),
    [
        ({"faders": [{"name": "room", "db": -6}, {"name": "close", "db": 12}]}, {"room": -6.0}),
        ({"faders": [{"name": "room", "db": -6}, {"name": "room", "db": None}]}, {"room": None}),
        ({"faders": [{"name": "room", "db": True}, {"db": 0}, 7, {"name": "close", "db": -1}]},
         {"close": -1.0}),
        ({"faders": [{"name": "room\x1b[2J", "db": -6}, {"name": "close", "db": -2}], "solo": 3},
         None),
        ({"faders": [{"name": "room", "db": -41}]}, None),
        ({"faders": {"room": -6}}, None),
        ({"faders": [], "solo": [1, "\u202e"]}, None),
        ({"room": -6}, None),
        ([], None),
        ("room off", None),
    ],
)  # fmt: skip
def test_of_a_balance_that_cannot_be_what_can_counts_and_otherwise_the_one_before_holds(
    session: Session, written: Any, counts: dict[str, float | None] | None
) -> None:
    say(session, PART, 1, balance=BLEND)
    line(session, balance=written, rating=2)
    said = opinion_of(session, PART, 1)
    assert said.rating == 2
    expected = {"close": 0.0, "room": -6.0} if counts is None else counts
    assert {one.name: one.db for one in said.balance.faders} == expected


def test_a_line_that_names_other_microphones_counts_for_those_the_variant_has(
    session: Session,
) -> None:
    faders = [{"name": "ribbon", "db": -3}, {"name": "room", "db": -6}]
    line(session, keeper=True, balance={"faders": faders, "solo": ["ribbon"]})
    said = opinion_of(session, PART, 1).held_to(["close", "room"])
    assert said.balance == Balance(faders=(Fader(name="room", db=-6.0),))
    assert said.keeper == Keeper(reason="", balance=said.balance)
    assert heard_db(said.balance, "close") == 0.0


def test_a_line_about_keeping_that_cannot_be_counts_for_nothing(session: Session) -> None:
    line(session, reason="of no keeper")
    line(session, keeper=1, reason="one is no yes")
    line(session, keeper="true")
    assert opinion_of(session, PART, 1) == Opinion(part=PART, number=1)
    line(session, keeper=True, reason="left\u202eright")
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="", balance=Balance())
    line(session, reason=5)
    line(session, discarded=True)
    said = opinion_of(session, PART, 1)
    assert said.keeper == Keeper(reason="", balance=Balance())
    assert said.discarded is False


# ------------------------------------------------------------------ history


def test_the_history_of_a_variant_tells_every_line_about_it_in_words(session: Session) -> None:
    def note(event: str, **facts: Any) -> None:
        journal.append(session.folder, event, clock=noon, part=PART, **facts)  # type: ignore[arg-type]

    note("judged", number=1, verdict="look")
    note("trim set", trim_db=-3.0)
    say(session, PART, 1, rating=4, words="warm", photo="a.jpg", clock=noon)
    say(session, PART, 1, called="the big one", chain="fuzz", clock=noon)
    say(session, PART, 1, rating=0, called="", chain="", discarded=True, clock=noon)
    say(session, PART, 1, discarded=False, clock=noon)
    note("run pass", number=1, verdict="look")
    note("joined", number=2, base=1, section=7)
    handed = {PART: [2, 1], "other": [1, "x"], "torn": 3}
    journal.append(
        session.folder,
        "handed over",
        clock=noon,
        name="harbour-lights-001",
        token="",
        sounds=handed,
    )
    note("blessed", number=1)
    assert {one.at for one in history(session, PART, 1)} == {NOON}
    assert told(session, 1) == [
        "its number was claimed",
        "judged: look",
        "rated 4 of 5; “warm”; photo a.jpg",
        "called the big one; made through fuzz",
        "the rating taken back; its other name taken back; the chain's correction taken back; discarded",
        "taken back into sight",
        "in a run: look",
        "used for 002",
        "handed over: harbour-lights-001",
        "blessed",
    ]
    assert told(session, 2) == [
        "its number was claimed",
        "made of 001 and 007",
        "handed over: harbour-lights-001",
    ]
    assert told(session, 5) == []


def test_the_history_tells_what_was_kept_why_and_how_it_was_balanced(session: Session) -> None:
    say(session, PART, 1, balance=BLEND)
    say(session, PART, 1, keeper=True, reason="sits in the mix")
    solo = Balance(
        faders=(Fader(name="close", db=-0.04), Fader(name="room", db=None)), solo=("close",)
    )
    say(session, PART, 1, balance=solo)
    say(session, PART, 1, reason="the chorus")
    say(session, PART, 1, reason="")
    say(session, PART, 1, keeper=False)
    say(session, PART, 1, balance=Balance())
    say(session, PART, 1, keeper=True, rating=5)
    say(session, PART, 2, keeper=True, reason="x" * 500)
    assert told(session, 1)[1:] == [
        "balance: close 0 dB, room −6 dB",
        "kept: sits in the mix, close 0 dB, room −6 dB",
        "balance: close 0 dB, room off, solo close",
        "kept because: the chorus",
        "the reason for keeping taken back",
        "not kept any more",
        "balance: all at 0 dB",
        "rated 5 of 5; kept",
    ]
    assert told(session, 2)[-1] == f"kept: {'x' * 199}…"


# ------------------------------------------------------------------ remembered for a sitting


def test_looking_again_reads_what_is_new_and_sees_every_other_change_too(session: Session) -> None:
    path, kept, tales = layout.journal(session.folder), Opinions(), Histories()

    def agree() -> tuple[Opinion, ...]:
        seen = opinions.opinions(session, remembered=kept)
        assert seen == opinions.opinions(session)
        for number in (1, 2):
            assert tales.look(session, PART, number) == history(session, PART, number)
        return seen

    assert agree() == ()
    say(session, PART, 1, rating=3)
    assert agree()[0].rating == 3
    assert agree() is agree()
    say(session, PART, 2, words="added")
    assert len(agree()) == 2
    whole = path.read_bytes()
    path.write_bytes(whole[:-1])  # torn before its end of line, yet whole
    assert len(agree()) == 2
    path.write_bytes(whole[:-9])
    assert len(agree()) == 1
    say(session, PART, 2, words="after a torn line")
    assert agree()[1].words == ("after a torn line",)
    path.write_bytes(path.read_bytes().replace(b'"rating": 3', b'"rating": 4'))
    assert agree()[0].rating == 4
    path.write_bytes(path.read_bytes().replace(b'"rating": 4', b'"rating": 5') + whole)
    assert agree()[0].rating == 3
    path.unlink()
    assert agree() == ()
    path.write_bytes(whole)
    assert len(agree()) == 2


def test_a_journal_that_cannot_be_read_is_told_and_read_once_it_can(session: Session) -> None:
    say(session, PART, 1, rating=3)
    path, kept = layout.journal(session.folder), Opinions()
    before = kept.look(session)
    hidden = path.rename(path.with_name("hidden"))
    path.mkdir()
    for _ in range(2):
        with pytest.raises(UseError, match=r"journal.jsonl (cannot be read|is a device)"):
            kept.look(session)
    path.rmdir()
    hidden.rename(path)
    assert kept.look(session) == before


# ------------------------------------------------------------------ hostile lines

ANY = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-3, 10**25)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.sampled_from([PART, "fuzz", "\x1b[2J", "[/]x", "../..", "\u202e", "x" * 600])
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=4,
)  # fmt: skip
FADERS = st.lists(
    st.fixed_dictionaries(
        {"name": st.sampled_from(["close", "room"]) | ANY, "db": st.floats(-50, 5) | ANY}
    )
    | ANY,
    max_size=3,
)
BALANCES = st.fixed_dictionaries({}, optional={"faders": FADERS | ANY, "solo": st.lists(ANY) | ANY})
KEYS = (
    "rating",
    "words",
    "photo",
    "called",
    "chain",
    "chain_content",
    "reason",
    "base",
    "section",
)
LINES = st.one_of(
    st.fixed_dictionaries(
        {
            "at": st.just(NOON) | ANY,
            "event": st.sampled_from(["said", "said", "joined", "judged", "run pass"]) | ANY,
            "part": st.just(PART) | ANY,
            "number": st.just(1) | ANY,
        },
        optional=dict.fromkeys(KEYS, ANY)
        | {
            "keeper": st.booleans() | ANY,
            "discarded": st.booleans() | ANY,
            "balance": BALANCES | ANY,
        },
    ).map(lambda line: json.dumps(line).encode()),
    st.sampled_from([b'{"event": "said"', b'"said"', b"[" * 90_000, b'{"said": "\\ud83d"}']),
    st.binary(max_size=20),
)


@given(st.lists(LINES, max_size=6), st.integers(0, 6))
def test_whatever_the_journal_holds_what_is_read_of_it_is_true_and_nothing_is_raised(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes], split: int
) -> None:
    one = Session(folder=tmp_path_factory.mktemp("s"), file=None)  # type: ignore[arg-type]
    path, kept = layout.journal(one.folder), Opinions()
    path.write_bytes(b"\n".join(lines[:split]))
    opinions.opinions(one, remembered=kept)
    path.write_bytes(b"\n".join(lines))
    seen = opinions.opinions(one, remembered=kept)
    assert seen == opinions.opinions(one)
    assert msgspec.json.decode(msgspec.json.encode(seen), type=tuple[Opinion, ...]) == seen
    for said in seen:
        assert said.number >= 1
        assert said.rating is None or 1 <= said.rating <= 5
        kept = said.keeper or Keeper(reason="", balance=said.balance)
        assert not (said.keeper and said.discarded)
        for balance in (said.balance, kept.balance):
            assert balance_problem(balance) is None
            assert all(
                one.db is None or LOWEST_DB <= one.db <= HIGHEST_DB for one in balance.faders
            )
        names = [one.name for one in (*said.balance.faders, *kept.balance.faders)]
        texts = [said.called, said.chain, kept.reason, *said.words, *said.photos, *names]
        assert not any("\x1b" in text or "\u202e" in text for text in texts)
    for number in (1, 2):
        msgspec.json.encode(history(one, PART, number))
