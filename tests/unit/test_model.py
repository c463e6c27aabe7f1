"""What the screen knows: every kind of news folded in, the word for now, and what leaves the send."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from session_cases import WIRING, variant

from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.talk import Rolling, RollKind
from audio.vocab import listening
from audio.vocab.blind import Sitting, SittingNow, Trial
from audio.vocab.checked import HitsAsked
from audio.vocab.delay import Delay, ReturnDelay
from audio.vocab.devices import DeviceList
from audio.vocab.findings import Finding
from audio.vocab.handover import HandoverNow
from audio.vocab.layers import Layer
from audio.vocab.listening import ListeningNow
from audio.vocab.messages import Counters, Opened, Span
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import PlanNow, RunNow
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part, Revision, SessionFile, Song
from audio.vocab.setup import Live, Outcome, PolarityResult, Row, SetupRecord
from audio.vocab.status import Meters, Status
from audio.vocab.wiring import SimulatedDevice, Wiring
from tui.model import Doing, Model, Sound, Word
from tui.present.carded import card_state

RATE = WIRING.sample_rate
OTHER = msgspec.structs.replace(WIRING, name="another")
OPENED = Opened(
    sample_rate=RATE, block_frames=512, inputs=8, outputs=8, sample_format="int32", paced=True
)
LEAD_IN, DI, SHIFT = 12_000, 10 * RATE, 700
PLAYS_UNTIL = LEAD_IN + DI + SHIFT


def part(name: str) -> Part:
    return Part(name=name, revisions=(Revision(file=f"di/{name}.wav", file_sha256="ab" * 32),))


def snapshot(*parts: str, **fields: Any) -> news.Snapshot:
    song = Song(name="low water", parts=tuple(map(part, parts or ("rhythm-left", "hook"))))
    usual: dict[str, Any] = {
        "folder": "/sessions/evening",
        "file": SessionFile(name="evening", wiring="wiring.yaml", songs=(song,)),
        "wiring": WIRING,
        "wiring_problem": "",
        "variants": (),
        "broken": (),
        "playing": (),
    }
    return news.Snapshot(**(usual | fields))


def di(name: str = "rhythm-left", *, rate: int = RATE, problem: str = "") -> news.DiRead:
    facts = AudioFacts(
        path=f"di/{name}.wav",
        container="WAV",
        encoding="PCM_24",
        sample_rate=rate,
        channels=1,
        frames=DI,
        time_reference=0,
        file_sha256="ab" * 32,
        channel=0,
        peak_dbfs=-9.5,
        loudest_dbfs=-18.0,
    )
    return news.DiRead(part=name, facts=facts, problem=problem)


def click(*frames: float | None, findings: tuple[Finding, ...] = ()) -> news.ClickDone:
    """Return a click as so many returns have heard it, the reference first; one where none are given."""
    heard = frames or (700.25,)
    returns = tuple(
        ReturnDelay(
            name=f"mic {number}",
            input=number,
            delay_frames=one,
            delay_ms=None,
            plus_minus_frames=None,
            spread_frames=None,
            snr_db=None,
            polarity="normal",
            noise_dbfs=-84.0,
            reason="nothing" if one is None else None,
        )
        for number, one in enumerate(heard, start=2)
    )
    delay = Delay(
        reference="mic 2",
        sample_rate=RATE,
        click_dbfs=-34.0,
        delay_frames=heard[0],
        delay_ms=None,
        plus_minus_frames=None,
        spread_frames=None,
        snr_db=None,
        polarity="normal",
        returns=returns,
        findings=findings,
    )
    return news.ClickDone(delay=delay)


def begins(what: RollKind) -> news.RollBegins:
    length = {
        "click": 60_000,
        "set": 60_000,
        "flip": 24 * 3600 * RATE,
        "listen": 12 * RATE,
        "pass": PLAYS_UNTIL + 12 * RATE,
    }[what]
    until = {"listen": 0, "pass": PLAYS_UNTIL}.get(what, length)
    roll = Rolling(
        wiring=WIRING,
        what=what,
        plays_until=until,
        length_frames=length,
        lead_in_frames=LEAD_IN if what == "pass" else 0,
        shift_frames=SHIFT if what == "pass" else 0,
    )
    return news.RollBegins(roll=roll)


def at(frame: int, *, roll_id: int = 5, dropouts: int = 0) -> Status:
    silent = Meters((), (), (), ())
    return Status(
        stream_frame=10**6,
        roll_frame=frame,
        timeline_frame=frame,
        roll_length=10**6,
        roll_id=roll_id,
        state=0,
        dropouts=dropouts,
        flagged=0,
        inputs=silent,
        outputs=silent,
    )


def opened(wiring: Wiring = WIRING) -> news.StreamOpened:
    return news.StreamOpened(wiring=wiring, opened=OPENED)


def done(number: int = 1, **fields: Any) -> news.PassDone:
    one = msgspec.structs.replace(variant(number), **fields)
    return news.PassDone(variant=one, fault=None, interrupted=False)


def model(*told: News, doing: Doing | None = None) -> Model:
    """Return a model of a session that is open, its stream running, and what else was told."""
    one = Model(doing=doing)
    for piece in (snapshot(), news.Ready(), di(), opened(), *told):
        one.take(piece)
    return one


CLAIMED = news.Claimed(part="rhythm-left", number=7, chain="fuzz")

RECORD = SetupRecord(
    number=1,
    step="polarity",
    made_at="2026-11-24T20:00:00+01:00",
    wiring=WIRING,
    verdict="good",
    outcome=Outcome(
        result=PolarityResult(returns=()),
        rows=(),
        findings=(),
        headline="close is right side up",
        summary="one mic",
    ),
)

SOUNDS = ListeningNow(
    part="rhythm-left",
    sample_rate=RATE,
    sounds=(
        listening.Sound(
            key="di",
            title="DI, as it was edited",
            layers=(Layer(name="di", path="/di/a.wav", channel=0, at_frame=0),),
        ),
    ),
    heard="di",
    before="di",
    whole=DI,
    span=Span(start=0, end=DI),
)
SITTING = SittingNow(
    sitting=Sitting(
        number=1, part="rhythm-left", mode="pairs", sounds=("di", "001"), listener="A", planned=1
    ),
    trials=(Trial(index=1, behind=("001", "di")),),
)

EVERYTHING: tuple[News, ...] = (
    snapshot(),
    news.Ready(),
    news.Idle(),
    news.HandingOver(now=HandoverNow(doing="a.wav", files=0, of_files=2, size=0, of_size=100)),
    news.HandOverDone(),
    news.Said(text="said"),
    news.Mended(text="mended"),
    opened(),
    news.StreamClosed(),
    CLAIMED,
    begins("pass"),
    begins("click"),
    begins("listen"),
    begins("set"),
    begins("flip"),
    news.RollEnds(),
    click(),
    news.Measuring(live=Live(step="delay", say="the test click sounds")),
    news.StepDone(record=RECORD),
    news.ListeningStands(now=SOUNDS),
    news.SoundsRead(part="rhythm-left", now=SOUNDS, said=("one is left out",)),
    news.SoundsRead(part="rhythm-left", now=None, problem="no listen outputs"),
    news.BlindStands(now=SITTING),
    news.RunStands(plan=PlanNow(), run=RunNow()),
    done(),
    news.Stopped(),
    news.Trouble(text="trouble"),
    news.Disk(free_bytes=10**9),
    news.Counted(
        counters=Counters(callbacks=9, flagged=0, share_median=0.1, share_p999=0.2, share_worst=0.3)
    ),
    news.Devices(devices=DeviceList()),
    di(),
    news.DiChecked(part="rhythm-left", asked=HitsAsked(), checked=None, problem="gone"),
    news.HitsCompared(part="rhythm-left", other="hook", compared=None, problem="gone"),
    news.SoundsCompared(part="rhythm-left", a="002", b="di", apart=None, problem="gone"),
    news.VariantRead(part="rhythm-left", number=1, variant=variant()),
    news.HistoryRead(part="rhythm-left", number=1, happened=()),
    news.Outlined(path="di/a.wav", outlines=None),
    news.Closeup(path="di/a.wav", at_frame=0, samples=b""),
)


# ------------------------------------------------------------------ any news at all


def test_the_list_of_this_file_holds_every_kind_of_news() -> None:
    assert {type(one) for one in EVERYTHING} == set(get_args(News))


@given(
    st.lists(st.sampled_from(EVERYTHING), max_size=30),
    st.sampled_from((None, *get_args(Doing))),
    st.one_of(st.none(), st.builds(at, st.integers(-1000, 10**7), roll_id=st.integers(-1, 5))),
)
def test_whatever_news_come_there_is_a_word_a_sound_and_a_path(
    told: list[News], doing: Doing | None, status: Status | None
) -> None:
    one = Model(doing=doing)
    for piece in told:
        one.take(piece)
        one.see(status)
        assert one.word(status) in get_args(Word)
        assert one.sound(status) in get_args(Sound)
        assert len(one.path()) == 7
        left = one.left_s(status)
        assert left is None or (one.roll is not None and one.roll.what == "pass")
    one.take(news.RollEnds())
    one.take(news.Idle())
    assert one.sound(status) == "nothing sounds", "after Idle nothing sounds"
    assert not one.busy


def test_the_waveforms_news_change_nothing_here() -> None:
    one = model()
    before = asdict(one)
    one.take(news.Outlined(path="di/a.wav", outlines=None))
    one.take(news.Closeup(path="di/a.wav", at_frame=0, samples=b""))
    assert asdict(one) == before


# ------------------------------------------------------------------ listening


def test_while_people_listen_the_send_is_said_to_be_silent() -> None:
    one = model(doing="sounds")
    assert one.sound(None) == "nothing sounds"
    one.take(begins("flip"))
    assert (one.word(at(9)), one.sound(at(9))) == ("comparing", "send silent")
    one.take(news.RollEnds())
    one.take(news.Idle())
    assert (one.word(None), one.sound(None)) == ("ready", "nothing sounds")


def test_what_there_would_be_to_listen_to_never_replaces_what_rolls() -> None:
    rolling = msgspec.structs.replace(SOUNDS, whole=DI + 1)
    one = model(news.ListeningStands(now=rolling), doing="sounds")
    one.take(news.SoundsRead(part="rhythm-left", now=SOUNDS, said=("one is left out",)))
    assert one.listening == rolling
    one.take(news.Idle())
    one.take(news.SoundsRead(part="rhythm-left", now=SOUNDS, said=("one is left out",)))
    assert (one.listening, one.no_sounds, one.said) == (SOUNDS, "", "one is left out")
    one.take(news.SoundsRead(part="rhythm-left", now=None, problem="no listen outputs"))
    assert (one.listening, one.no_sounds) == (None, "no listen outputs")


# ------------------------------------------------------------------ session, parts, chains


def test_the_part_of_the_newest_variant_is_the_one_to_go_on_with() -> None:
    old = msgspec.structs.replace(variant(9, part="hook"), made_at="2026-11-24T12:00:00+01:00")
    new = msgspec.structs.replace(
        variant(1, part="rhythm-left"), made_at="2026-11-25T09:00:00+01:00"
    )
    one = Model()
    one.take(snapshot("hook", "rhythm-left", variants=(old, new)))
    assert one.part == "rhythm-left"


def test_without_variants_the_first_part_is_chosen_and_without_parts_none() -> None:
    one = Model()
    one.take(snapshot("hook", "rhythm-left"))
    assert one.part == "hook"
    empty = Model()
    empty.take(snapshot(file=SessionFile(name="evening", songs=())))
    assert empty.part is None
    assert empty.chosen() is None
    hindrance = empty.hindrance()
    assert hindrance is not None
    assert hindrance.name == "DI"


def test_a_part_that_was_chosen_stays_unless_it_is_gone() -> None:
    one = model()
    one.part = "hook"
    one.take(snapshot(variants=(variant(1),)))
    assert one.part == "hook"
    one.take(snapshot("rhythm-left"))
    assert one.part == "rhythm-left"


def test_variants_are_those_of_the_chosen_part_the_newest_first() -> None:
    one = Model()
    found = (variant(1, part="hook"), variant(1), variant(2), variant(10))
    one.take(snapshot(variants=found))
    one.part = "rhythm-left"
    assert [v.number for v in one.variants()] == [10, 2, 1]


def test_chains_are_named_once_the_bare_path_first_then_the_newest_typed() -> None:
    one = Model()
    room = msgspec.structs.replace(WIRING, device=SimulatedDevice(chains={"echo": (), "fuzz": ()}))
    one.take(snapshot(variants=(variant(1),), wiring=room))
    one.take_chain("octave")
    one.take_chain("swell")
    assert one.chains() == [BARE_PATH, "swell", "octave", "fuzz", "echo"]


def test_a_chain_that_is_there_in_other_capitals_is_that_chain() -> None:
    one = Model()
    one.take(snapshot(variants=(variant(1),)))
    one.take_chain("FUZZ")
    assert one.chain == "fuzz"
    assert one.chains() == [BARE_PATH, "fuzz"]


# ------------------------------------------------------------------ the stream


def test_a_stream_that_was_closed_as_asked_is_no_trouble() -> None:
    one = model(click(), news.StreamClosed())
    assert (one.opened, one.troubles, one.stream_lost) == (None, [], "")
    assert one.word(None) == "no stream"


def test_a_stream_that_was_lost_says_so_until_the_next_one_is_open() -> None:
    one = model(begins("pass"), news.StreamClosed(reason="the cable is out"))
    assert [trouble.text for trouble in one.troubles] == ["the cable is out"]
    assert one.roll is None
    assert one.sound(None) == "nothing sounds"
    stage = next(s for s in one.path() if s.name == "send")
    assert (stage.state, stage.why) == ("wrong", "the cable is out")
    one.take(opened())
    assert one.stream_lost == ""


def test_a_stream_of_another_wiring_is_not_ready_for_a_pass() -> None:
    one = model(opened(OTHER))
    one.chain = "fuzz"
    hindrance = one.hindrance()
    assert hindrance is not None
    assert "another wiring" in hindrance.why
    assert one.word(None) == "no stream"


def test_a_click_belongs_to_its_stream() -> None:
    returns = {"none": model(), "heard": model(click()), "old": model(click(), opened())}
    states = {
        why: next(s for s in one.path() if s.name == "returns").state
        for why, one in returns.items()
    }
    assert states == {"none": "not set", "heard": "set", "old": "stale"}


def test_a_click_that_one_return_did_not_hear_is_wrong_and_says_why() -> None:
    silent = Finding(code="nothing", weight="redo", text="Nothing came back.", advice="Look.")
    for told, why in (
        (click(None, findings=(silent,)), "Nothing came back. Look."),
        (click(700.25, None, findings=(silent,)), "Nothing came back. Look."),
        (click(None), "the test click was not heard"),
    ):
        stage = next(s for s in model(told).path() if s.name == "returns")
        assert (stage.state, stage.why) == ("wrong", why)


# ------------------------------------------------------------------ the DI


def test_a_di_of_another_rate_is_said_with_both_numbers() -> None:
    one = model(di(rate=44_100))
    stage = one.path()[0]
    assert stage.state == "wrong"
    assert "44100 Hz" in stage.why
    assert "48000 Hz" in stage.why


def test_a_di_that_cannot_be_read_keeps_a_pass_from_starting_until_it_can() -> None:
    bad = news.DiRead(part="rhythm-left", facts=None, problem="it is gone")
    one = model(bad)
    one.chain = "fuzz"
    hindrance = one.hindrance()
    assert hindrance is not None
    assert hindrance.why == "it is gone"
    one.take(di())
    assert one.hindrance() is None


# ------------------------------------------------------------------ a pass from end to end


def test_a_pass_goes_from_word_to_word_and_says_what_leaves_the_send() -> None:
    one = model(doing="pass")
    seen: list[tuple[Word, Sound]] = []

    def told(piece: News | None, status: Status | None = None) -> None:
        if piece is not None:
            one.take(piece)
        if not seen or seen[-1] != (one.word(status), one.sound(status)):
            seen.append((one.word(status), one.sound(status)))

    told(CLAIMED)
    told(begins("click"), at(100))
    told(news.RollEnds())
    told(begins("listen"), at(100))
    told(news.RollEnds())
    told(click())
    told(begins("pass"), at(LEAD_IN))
    told(None, at(PLAYS_UNTIL))
    told(None, at(PLAYS_UNTIL + 1))
    told(news.RollEnds())
    told(begins("click"), at(100))
    told(news.RollEnds())
    told(done())
    told(news.Idle())
    assert seen == [
        ("measuring", "about to send"),
        ("test click", "SENDING"),
        ("measuring", "about to send"),
        ("listening", "listening"),
        ("measuring", "about to send"),
        ("rolling", "SENDING"),
        ("tail", "listening"),
        ("judging", "nothing sounds"),
        ("closing click", "SENDING"),
        ("judging", "nothing sounds"),
        ("ready", "nothing sounds"),
    ]
    assert one.outcome == "verdict"


def test_a_roll_sounds_even_while_it_is_being_stopped() -> None:
    one = model(CLAIMED, begins("pass"), doing="pass")
    one.stopping = True
    assert (one.word(at(100)), one.sound(at(100))) == ("stopping", "SENDING")
    one.take(news.RollEnds())
    assert one.sound(None) == "nothing sounds"


def test_a_pass_left_running_by_another_face_sounds_here_too() -> None:
    one = Model()
    one.take(snapshot(playing=(news.Playing(part="hook", number=3),)))
    assert one.sound(None) == "SENDING"
    one.take(snapshot())
    assert one.sound(None) == "nothing sounds"


def test_a_countdown_and_an_opening_session_have_their_words() -> None:
    one = Model()
    assert one.word(None) == "opening"
    one = model()
    one.countdown_s = 3
    assert one.word(None) == "countdown"


@pytest.mark.parametrize("doing", ["stream", "wiring"])
def test_while_a_stream_opens_nothing_is_about_to_be_sent(doing: Doing) -> None:
    one = model(news.StreamClosed(), doing=doing)
    assert (one.word(None), one.sound(None)) == ("opening", "nothing sounds")


def test_time_counts_down_to_the_end_of_the_di_then_up_through_the_tail() -> None:
    one = model(begins("pass"), doing="pass")
    whole_s = (PLAYS_UNTIL - LEAD_IN) / RATE
    assert one.left_s(None) is None
    assert one.left_s(at(-500)) == whole_s, "the lead-in is not yet the DI"
    assert one.left_s(at(LEAD_IN)) == whole_s
    assert one.left_s(at(LEAD_IN + RATE)) == pytest.approx(whole_s - 1.0)
    assert one.left_s(at(PLAYS_UNTIL)) == 0.0
    assert one.left_s(at(PLAYS_UNTIL + 2 * RATE)) == pytest.approx(-2.0)
    one.take(begins("click"))
    assert one.left_s(at(100)) is None


# ------------------------------------------------------------------ how it went


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ((CLAIMED, done()), "verdict"),
        ((CLAIMED, news.Stopped()), "stopped"),
        ((news.Trouble(text="no room"),), "failed"),
        ((CLAIMED, news.StreamClosed(reason="gone")), "failed"),
        ((CLAIMED, news.StreamClosed(reason="gone"), done(state="recovered")), "verdict"),
        ((), "failed"),
    ],
)
def test_a_pass_has_an_outcome_however_it_ended(told: tuple[News, ...], outcome: str) -> None:
    one = model(*told, news.Idle(), doing="pass")
    assert one.outcome == outcome
    assert (one.busy, one.stopping, one.claimed) == (False, False, None)


def test_a_click_that_was_stopped_or_failed_is_no_outcome_of_a_pass() -> None:
    for told in (news.Stopped(), news.Trouble(text="no")):
        assert model(told, news.Idle(), doing="click").outcome is None


def test_troubles_stay_in_order_until_they_are_read() -> None:
    one = model(news.Trouble(text="first"), news.Trouble(text="second"), news.Idle())
    assert [trouble.text for trouble in one.troubles] == ["first", "second"]


def test_dropouts_of_a_pass_are_those_of_its_own_roll_and_stay_when_it_is_over() -> None:
    one = model(CLAIMED, begins("listen"), doing="pass")
    one.see(at(100, dropouts=4))
    assert one.lost == 0, "what the wait for silence lost is none of the pass's"
    one.take(news.RollEnds())
    one.take(begins("pass"))
    one.see(at(-1, roll_id=-1, dropouts=4))
    assert one.lost == 0, "it has not begun"
    one.see(at(100, dropouts=2))
    one.see(at(0, roll_id=-1))  # the engine is done before the news of it has come
    one.take(news.RollEnds())
    one.see(at(0, roll_id=-1))
    assert one.lost == 2
    one.take(news.Claimed(part="rhythm-left", number=8, chain="fuzz"))
    assert one.lost == 0


# ------------------------------------------------------------------ a step of the set-up


def test_while_a_step_runs_the_second_terminal_reads_its_figures() -> None:
    one = model(begins("set"), doing="step")
    row = Row(name="amp sees", value=-2.3, unit="dB", word="trim up 2.3 dB")
    one.take(news.Measuring(live=Live(step="send level", say="amp on standby", rows=(row,))))
    state = card_state(one, at(1000))
    assert (state.word, state.said) == ("setting", "amp sees −2.3 dB trim up 2.3 dB")
    assert state.sounding
    assert state.may_stop
    assert not state.may_go


def test_a_step_that_has_no_figures_yet_says_what_to_do() -> None:
    one = model(begins("set"), doing="step")
    one.take(news.Measuring(live=Live(step="send level", say="amp on standby")))
    assert card_state(one, at(1000)).said == "amp on standby"
