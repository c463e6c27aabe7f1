"""What stands on a chain card: everything that is plugged, what changes as large as it fits."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from audio.plan.replug import changes
from audio.vocab.card import CardLine, CardState, fitted
from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from tui.present.chain_card import drawn
from tui.present.chain_words import card_lines
from tui.present.letters import PIXEL_ROWS

CRUNCH = Chain(
    name="crunch",
    pedals=(Pedal(name="tuner"), Pedal(name="drive", knobs={"gain": "1:00", "tone": "11:30"})),
    amps=(AmpAsSet(input="normal", knobs={"treble": "5"}),),
    mics=(MicAsSet(return_name="close", mic="ribbon", gain="2:00"),),
)
HIGHER = Chain(
    name="higher",
    pedals=(Pedal(name="drive", knobs={"gain": "2:30", "tone": "11:30"}), Pedal(name="wah")),
    amps=(AmpAsSet(input="normal", knobs={"treble": "5"}, loop=(Pedal(name="delay"),)),),
    mics=(MicAsSet(return_name="close", mic="ribbon", gain="2:00"),),
)


def drawings(lines: list[str]) -> int:
    """Count the rows that have a piece of a large letter in them."""
    return sum(any(glyph in one for glyph in "▀▄█") for one in lines)


def plain(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def test_a_card_says_what_comes_out_then_everything_along_the_signal() -> None:
    lines = card_lines(HIGHER, changes(CRUNCH, HIGHER))
    assert [(one.word, one.name) for one in lines] == [
        ("out", "tuner"),
        ("turn", "drive"),
        ("new", "wah"),
        ("", "amp"),
        ("new", "delay"),
        ("", "close"),
    ]
    assert lines[1].changed == ("gain 2:30",)
    assert lines[1].was == "gain was 1:00"
    assert "tone 11:30" in lines[1].settings


def test_what_changes_is_large_and_what_stays_is_in_words() -> None:
    shown = [one.plain for one in drawn(card_lines(HIGHER, changes(CRUNCH, HIGHER)), 80, 18)]
    assert drawings(shown) >= 3 * 3  # three rows each of out, turn, new at least
    assert "input normal treble 5" in plain(shown)
    assert len(shown) <= 18
    words = [one.split()[0] for one in shown if one[:6].strip()]
    assert words == ["out", "turn", "new", "new"]


def test_more_room_makes_letters_larger_and_less_makes_words_of_them() -> None:
    lines = (CardLine(word="out", name="fuzz"), CardLine(word="", name="amp"))
    rows = {
        (columns, height): drawings([one.plain for one in drawn(lines, columns, height)])
        for columns, height in ((120, 30), (80, 8), (80, 5), (80, 2), (14, 30))
    }
    assert rows == {
        (120, 30): 2 * PIXEL_ROWS,
        (80, 8): PIXEL_ROWS,
        (80, 5): 3,
        (80, 2): 0,
        (14, 30): 0,
    }


def test_letters_without_a_drawing_are_words() -> None:
    shown = drawn((CardLine(word="new", name="fuzz & wah (é)"),), 100, 20)
    assert [one.plain.split()[:2] for one in shown] == [["new", "fuzz"]]


def test_a_chain_without_a_file_says_what_comes_out_only() -> None:
    assert card_lines(None, changes(CRUNCH, Chain(name="other"))) == (
        CardLine(word="out", name="tuner"),
        CardLine(word="out", name="drive"),
    )


def test_a_pedal_that_is_only_moved_says_where() -> None:
    first, second, third = (Pedal(name=name) for name in ("fuzz", "wah", "delay"))
    before = Chain(name="one", pedals=(first, second, third))
    after = Chain(name="other", pedals=(second, third, first))
    (moved,) = [one for one in card_lines(after, changes(before, after)) if one.word]
    assert (moved.word, moved.name, moved.was) == ("moved", "fuzz", "behind delay")


WORDS = ("new", "out", "moved", "turn", "")
names = st.text(max_size=30)


@settings(max_examples=80)
@given(
    st.lists(st.tuples(names, names, st.lists(names, max_size=4)), max_size=6),
    st.integers(40, 160),
    st.integers(3, 45),
)
def test_whatever_things_are_called_no_line_is_too_wide_or_steers_the_terminal(
    things: list[tuple[str, str, list[str]]], columns: int, rows: int
) -> None:
    lines = [
        CardLine(
            word=("new", "out", "moved", "turn", "")[at % 5],
            name=name,
            was=was,
            settings=tuple(all_of),
        )
        for at, (name, was, all_of) in enumerate(things)
    ]
    for one in drawn(lines, columns, rows):
        assert cell_len(one.plain) <= columns
        assert one.plain.isprintable()


def test_a_card_that_is_too_long_for_the_wire_is_cut() -> None:
    line = CardLine(word="new", name="x" * 500, settings=("y" * 500,) * 100)
    state = CardState(session="s", word="by hand", sounding=False, card=(line,) * 200)
    cut = fitted(state)
    assert len(cut.card) == 30
    assert len(cut.card[0].settings) == 16
    assert max(len(one) for one in (cut.card[0].name, *cut.card[0].settings)) == 60
