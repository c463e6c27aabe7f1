"""What is said of variants on the screen: rated, described, corrected, discarded and taken back by keys."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Names, evening, variant
from needs import needs_samples
from puppet import Puppet
from rich.cells import cell_len
from rooms import make_session, wired
from screens import Seat, play, seated
from shown import HOSTILE
from told_sessions import session_of

from audio.jobs.news import HistoryRead
from audio.jobs.orders import LookAtHistory, Looked, SayOfVariant
from audio.jobs.runner import Runner
from audio.session import journal, layout
from audio.session.opened import Session
from audio.session.opinions import opinion_of, opinions, say
from audio.vocab.balance import Balance, Fader
from audio.vocab.choice import Choice
from audio.vocab.opinion import Happening, Keeper, Opinion
from audio.vocab.section import Covers
from audio.vocab.variant import Joined
from tui.model import Model
from tui.present.looks import fitted
from tui.stages import variants

PART = "riff"
pytestmark = needs_samples()

BLEND = Balance(faders=(Fader(name="close"), Fader(name="room", db=-6.0)))

OF_BARS = Covers(text="bars 5-8", from_frame=0, frames=9, section_from_frame=1, section_to_frame=8)
OF_TWO = Joined(base=1, section=2, from_frame=1, to_frame=8, fade_frames=2)


async def noted(seat: Seat, *keys: str) -> None:
    """Press keys and wait until what was said is in the journal and seen."""
    await seat.press(*keys)
    await seat.done()


async def rated_described_corrected(seat: Seat, session: Session) -> None:
    """Say everything there is to say of the newest variant."""
    await seat.walk_to("variants")
    await seat.sees("▸ 003 fuzz 3, bars 5-8", "its number was claimed", "12345 rate", "i words")
    await seat.fits_everywhere()
    await noted(seat, "4")
    await seat.sees("▸ 003 fuzz 3, bars 5-8 GOOD 4 of 5", "rated 4 of 5")
    await seat.press_named("i")
    await seat.sees("What do you hear?")
    await seat.type("[b]warm[/] in the chorus")
    await noted(seat, "enter")
    await seat.sees("“[b]warm[/] in the chorus”")
    await seat.press("v")
    await seat.sees("riff 003", "“[b]warm[/] in the chorus”", "rating 4 of 5", "what you hear")
    await seat.fits_everywhere()
    await seat.press("down", "enter")
    await seat.type("../x.jpg")
    await seat.press("enter")
    await seat.sees("give the name alone, without a folder")
    await seat.press(*["backspace"] * 8)
    await seat.type("desk.jpg")
    await noted(seat, "enter")
    await seat.press("down", "enter")
    await seat.type("the big one")
    await noted(seat, "enter")
    await seat.press("down", "enter", *["backspace"] * 6)
    await seat.type("crunch")
    await noted(seat, "enter")
    await seat.sees("called the big one", "chain crunch", "photo desk.jpg", "made through crunch")
    await noted(seat, "5")
    await seat.sees("rating 5 of 5")
    await seat.fits_everywhere()
    await seat.press("escape")
    await seat.sees(
        "▸ 003 the big one, bars 5-8 GOOD 5 of 5", "really made through crunch, not fuzz 3"
    )
    said = opinion_of(session, PART, 3)
    assert said == Opinion(
        part=PART,
        number=3,
        rating=5,
        words=("[b]warm[/] in the chorus",),
        photos=("desk.jpg",),
        called="the big one",
        chain="crunch",
    )


async def discarded_and_taken_back(seat: Seat) -> None:
    """Put one out of sight, see that it is counted, and take it back."""
    await seat.press("down")
    await seat.sees("▸ 002 fuzz 2")
    await noted(seat, "d")
    shown = await seat.sees("1 discarded; h shows it", "nothing is deleted", "▸ 001 fuzz 1")
    assert "002" not in shown.split("riff 002")[0]
    await seat.hold("d", 5)  # the one below is not pressed
    await seat.done()
    await seat.sees("1 discarded; h shows it", "▸ 001 fuzz 1")
    await noted(seat, "d")
    await seat.sees("2 discarded; h shows them", "▸ 003 the big one")
    await seat.press("h")
    await seat.sees("2 discarded; h hides them", "002 fuzz 2", "001 fuzz 1", "discarded")
    await seat.fits_everywhere()
    await seat.press("down")
    await noted(seat, "d")
    await seat.sees("1 discarded; h hides it", "▸ 002 fuzz 2", "riff 002 is taken back")
    await seat.press("h")
    await seat.sees("1 discarded; h shows it", "▸ 002 fuzz 2")


@pytest.mark.slow
def test_everything_that_can_be_said_of_a_variant_is_said_by_keys(tmp_path: Path) -> None:
    session = session_of(tmp_path, 3, covers=OF_BARS)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await rated_described_corrected(seat, session)
            await discarded_and_taken_back(seat)
            await seat.press("e")
            await seat.sees("riff 002 through fuzz 2")
            await noted(seat, "2")
            await seat.reads_on_to("2 of 5", "history", "taken back into sight", "rated 2 of 5")
            await seat.fits_everywhere()

    play(flow())
    assert [(one.number, one.rating, one.discarded) for one in opinions(session)] == [
        (1, None, True),
        (2, 2, False),
        (3, 5, False),
    ]


async def kept_from_the_list(seat: Seat) -> None:
    """Keep one with a reason, see it marked, and fail to discard it; a key that is held counts once."""
    await seat.walk_to("variants")
    await seat.press("down")
    await seat.sees("▸ 001 fuzz 1", "balance now: close 0 dB, room −6 dB", "! keeper")
    await seat.press("exclamation_mark")
    await seat.sees("What makes it a keeper? One line, or leave it empty")
    await seat.fits_everywhere()
    await seat.type("sits in the [b]mix[/]!")
    await noted(seat, "enter")
    shown = await seat.sees(
        "▸ 001 fuzz 1", "keeper: sits in the [b]mix[/]!, close 0 dB, room −6 dB"
    )
    assert shown.count("▙ keeper") == 1
    await seat.sees("2, 1 kept", "kept: sits in the [b]mix[/]!, close 0 dB, room −6 dB")
    await seat.fits_everywhere()
    await noted(seat, "d")
    await seat.sees("riff 001: a keeper is not discarded; say first that it is not kept any more")
    while seat.desk.model.troubles:
        await seat.press("escape")
    await noted(seat, "exclamation_mark")
    await seat.hold("exclamation_mark", 5)
    shown = await seat.sees("riff 001 is not kept any more")
    assert "What makes it" not in shown
    assert "▙" not in shown


async def kept_from_the_note(seat: Seat, session: Session) -> None:
    """Discard it, keep it with no reason, give one afterwards, take it back."""
    await noted(seat, "d")
    await seat.sees("1 discarded; h shows it")
    await seat.press("h", "down")
    await seat.sees("▸ 001 fuzz 1")
    await seat.press("v")
    await seat.sees("discarded: out of sight", "keeper –")
    await seat.press(*["down"] * 5)
    await seat.sees("kept with a reason and the balance that holds now; ! takes it back")
    await seat.press("enter")
    await seat.sees("What makes it a keeper?", "it comes back into sight")
    await noted(seat, "enter")
    await seat.sees("keeper close 0 dB, room −6 dB", "taken back into sight")
    await seat.press("enter")
    await seat.type("the chorus")
    await noted(seat, "enter")
    await seat.sees("keeper the chorus, close 0 dB, room −6 dB", "kept because: the chorus")
    await seat.fits_everywhere()
    assert opinion_of(session, PART, 1).keeper == Keeper(reason="the chorus", balance=BLEND)
    await noted(seat, "exclamation_mark")
    await seat.sees("keeper –", "not kept any more")


@pytest.mark.slow
def test_a_variant_is_kept_with_a_reason_and_its_blend_and_taken_back_by_one_key(
    tmp_path: Path,
) -> None:
    session = session_of(tmp_path, 2)
    say(session, PART, 1, balance=BLEND)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await kept_from_the_list(seat)
            await kept_from_the_note(seat, session)

    play(flow())
    assert opinion_of(session, PART, 1) == Opinion(part=PART, number=1, balance=BLEND)


def test_a_journal_that_names_other_microphones_shows_those_the_variant_has(
    tmp_path: Path,
) -> None:
    session = session_of(tmp_path, 1)
    faders = [{"name": "ribbon", "db": -3}, {"name": "room", "db": -6}]
    balance = {"faders": faders, "solo": ["ribbon"]}
    said = {"part": PART, "number": 1, "keeper": True, "balance": balance}
    journal.append(session.folder, "said", **said)  # type: ignore[arg-type]

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("variants")
            await seat.sees("▙ keeper", "keeper: room −6 dB")
            assert seat.desk.model.notes.of(PART, 1).balance == Balance(
                faders=(Fader(name="room", db=-6.0),)
            )

    play(flow())


def test_all_keys_of_the_stage_can_be_read_on_a_small_screen(tmp_path: Path) -> None:
    session = session_of(tmp_path, 1)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("variants")
            await seat.press("question_mark")
            shown = await seat.sees(
                "at this stage", "1 2 3 4 5", "rate a variant, 1 to 5", "↑↓ more"
            )
            for _ in range(10):
                await seat.press("down")
            shown += await seat.sees("leave; a pass that rolls")
            assert "say words of a variant" in shown
            assert "keep a variant, with a reason, or take that back" in shown
            assert "put a variant out of sight" in shown
            await seat.fits_everywhere()

    play(flow())


async def _shown(seat: Seat) -> None:
    """Bring an evening of two variants."""
    await seat.told(*evening(Names(), variant(Names(), 1), variant(Names(), 2, redo=True)))


def test_a_rating_starts_nothing_and_waits_for_what_is_under_way(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path)

    def said() -> list[Any]:
        return [one for one in puppet.orders if not isinstance(one, Looked)]

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await _shown(seat)
            await seat.walk_to("chain")
            await seat.press(
                "3", "i", "v", "d", "h", "exclamation_mark"
            )  # nothing here is spoken of
            assert not said()
            await seat.walk_to("variants")
            assert LookAtHistory(part="rhythm-left", number=2) in puppet.orders
            await seat.press("3")
            assert said() == [SayOfVariant(part="rhythm-left", number=2, rating=3)]
            assert seat.desk.model.busy  # the puppet never answers
            await seat.press("4", "d")
            await seat.sees("something is under way; say it when that is over")
            assert len(said()) == 1

    play(flow())


@pytest.mark.slow
def test_a_verdict_can_be_rated_where_it_stands_and_nothing_while_a_pass_goes_on(
    tmp_path: Path,
) -> None:
    folder = make_session(tmp_path, wiring=wired()).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("chain")
            await seat.press("down", "space")
            await seat.hold("5", 1)  # a key held moves the clock less than the countdown lasts
            await seat.hold("i", 1)
            await seat.sees("COUNTDOWN")
            await seat.press("space")
            await seat.pass_to_its_end()
            await noted(seat, "4")
            await seat.sees("VERDICT", "4 of 5")
            await seat.fits_everywhere()
            await seat.press("escape")
            await seat.sees("▸ 001 bare path GOOD 4 of 5", "judged: good", "rated 4 of 5")

    play(flow())


# ------------------------------------------------------------------ lines

named = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=30))


faders = st.builds(Fader, name=named, db=st.none() | st.floats(-40, 0))
chosen = st.builds(
    Choice, listener=named, place=st.integers(1, 30), words=named, handover=named, token=named
)
blends = st.builds(Balance, faders=st.tuples(faders), solo=st.just(()) | st.tuples(named))


@settings(max_examples=60)
@given(st.data(), st.integers(60, 200), st.integers(6, 40))
def test_whatever_was_said_every_line_fits_and_steers_no_terminal(
    data: st.DataObject, columns: int, rows: int
) -> None:
    model, names = Model(), Names()
    of_bars = msgspec.structs.replace(variant(names, 2), covers=OF_BARS)
    of_two = msgspec.structs.replace(variant(names, 3), joined=OF_TWO, state="joined")
    many = (variant(names, 1), of_bars, of_two, *(variant(names, n) for n in range(4, 12)))
    said = st.builds(
        Opinion,
        part=st.just(names.part),
        number=st.integers(1, 12),
        rating=st.none() | st.integers(1, 5),
        words=st.tuples(named, named),
        photos=st.tuples(named),
        called=named,
        chain=named,
        discarded=st.booleans(),
        balance=blends,
        keeper=st.none() | st.builds(Keeper, reason=named, balance=blends),
        choices=st.just(()) | st.tuples(chosen, chosen),
    )
    opinions_said = tuple(data.draw(st.lists(said, max_size=4)))
    first, *rest = evening(names, *many)
    for one in (msgspec.structs.replace(first, opinions=opinions_said), *rest):
        model.take(one)
    model.notes.show_discarded = data.draw(st.booleans())
    listed = model.listed()
    at = data.draw(st.integers(0, max(len(listed) - 1, 0)))
    told = tuple(Happening(at=data.draw(named), text=data.draw(named)) for _ in range(3))
    if listed:
        model.take(HistoryRead(part=names.part, number=listed[at].number, happened=told))
    lines = variants.lines(model, columns, rows, at=at, key=lambda name: name[0])
    assert len(lines) <= rows
    assert not listed or any(line.plain.startswith("  ▸ ") for line in lines)
    for line in lines:
        assert line.plain.isprintable()
        assert cell_len(fitted(line, columns).plain) == columns


@pytest.mark.parametrize("columns", [80, 120])
def test_a_line_tells_section_pieces_rating_and_state_whole(columns: int) -> None:
    model, names = Model(), Names(chain="a chain of pedals with quite a long name")
    of_bars = msgspec.structs.replace(variant(names, 2), covers=OF_BARS)
    of_two = msgspec.structs.replace(variant(names, 3), joined=OF_TWO, state="joined")
    said = tuple(
        Opinion(part=names.part, number=number, rating=4, discarded=number == 1)
        for number in (1, 2, 3)
    )
    first, *rest = evening(names, variant(names, 1), of_bars, of_two)
    for one in (msgspec.structs.replace(first, opinions=said), *rest):
        model.take(one)
    model.notes.show_discarded = True
    lines = variants.lines(model, columns, 14, at=0, key=lambda name: name[0])
    shown = [fitted(line, columns).plain for line in lines]
    assert "= 001+002" in shown[0]
    assert "joined" in shown[0]
    assert ", bars 5-8" in shown[1]
    assert "discarded" in shown[2]
    assert all("4 of 5" in line and "dBFS" in line for line in shown[:3])


@pytest.mark.parametrize("columns", [80, 120])
def test_a_keeper_is_marked_by_word_and_shape_and_its_blend_stands_below(columns: int) -> None:
    model, names = Model(), Names(chain="a chain of pedals with quite a long name")
    later = Balance(faders=(Fader(name="room", db=None),))
    said = (
        Opinion(
            part=names.part,
            number=1,
            balance=later,
            keeper=Keeper(reason="sits in the mix", balance=BLEND),
        ),
        Opinion(part=names.part, number=2),
    )
    first, *rest = evening(names, variant(names, 1), variant(names, 2))
    for one in (msgspec.structs.replace(first, opinions=said), *rest):
        model.take(one)
    lines = variants.lines(model, columns, 14, at=1, key=lambda name: name[0])
    other, kept, *below = [fitted(line, columns).plain for line in lines]
    assert kept.rstrip().endswith("▙ keeper")
    assert "keeper" not in other
    told = " ".join(" ".join(below).split())
    assert "keeper: sits in the mix, close 0 dB, room −6 dB · balance now: room off" in told


@pytest.mark.parametrize("columns", [80, 120])
def test_who_chose_a_variant_stands_beside_it_where_there_is_room_and_always_below(
    columns: int,
) -> None:
    model, names = Model(), Names(chain="a chain of pedals with quite a long name")
    ana, ben = (
        Choice(listener=by, place=1, blind=True, words=words, handover="x-001", token="a" * 8)
        for by, words in (("Ana", "more bite"), ("Ben", ""))
    )
    said = (
        Opinion(part=names.part, number=1, choices=(ana, ben)),
        Opinion(part=names.part, number=2, choices=(ben,), keeper=Keeper(reason="", balance=BLEND)),
    )
    first, *rest = evening(names, variant(names, 1), variant(names, 2))
    for one in (msgspec.structs.replace(first, opinions=said), *rest):
        model.take(one)
    lines = variants.lines(model, columns, 14, at=1, key=lambda name: name[0])
    assert all(line.cell_len <= columns for line in lines)
    kept, other, *below = [line.plain.rstrip() for line in lines]
    assert kept.endswith("▙ keeper  chosen by Ben" if columns == 120 else "▙ keeper")
    assert other.endswith("chosen by Ana, Ben") is (columns == 120)
    told = " ".join(" ".join(below).split())
    assert "chosen by Ana, Ben chosen first by Ana, blind: “more bite”" in told


def test_a_journal_that_cannot_be_read_hides_no_variant_and_is_told(tmp_path: Path) -> None:
    session = session_of(tmp_path, 2)
    layout.journal(session.folder).unlink()
    layout.journal(session.folder).mkdir()

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("variants")
            await seat.sees("▸ 002 fuzz 2", "001 fuzz 1", "cannot be read: Is a")
            await seat.fits_everywhere()
            while seat.desk.model.troubles:
                await seat.press("escape")
            await noted(seat, "4")
            await seat.sees("cannot be written: Is a")

    play(flow())
