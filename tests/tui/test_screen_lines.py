"""The lines that views are made of, for names of any letters and screens of any width."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Names, click, evening, session, variant
from puppet import QUIET
from rich.cells import cell_len
from rich.text import Text

from audio.plan.path import STAGES
from tui.model import Model
from tui.present.glyphs import cut
from tui.present.looks import fitted, in_sight
from tui.present.top import header, key_line, path_lines, rule, state_line
from tui.screens.evidence import evidence
from tui.screens.path import KEYS
from tui.settings import Settings
from tui.stages import chain, di, returns, send, steps, variants

CUT = re.compile(r"…(?<!reading …)(?<!rhythm-le…)(?<!fuzz into…)")
"""Something was cut; a wait is told so, too, and what a narrow stage cuts stands whole elsewhere."""

ROWS = 14
"""Rows a stage has on a screen of 24."""

named = st.text(
    st.characters(codec="utf-8")
    | st.sampled_from(
        "部屋שלום[]{}/\\|█\N{ZERO WIDTH JOINER}\N{COMBINING ACUTE ACCENT}\x1b\x07\t\n"
    ),
    max_size=200,
)
names_of_anybody = st.builds(
    Names,
    session=named,
    song=named,
    part=named,
    chain=named.filter(bool),
    device=named,
    returns=st.tuples(named, named),
    original=named,
    file=named,
    said=named,
    advice=named,
)


def key(action: str) -> str:
    return action[0]


def model_of(names: Names) -> Model:
    """Return the picture of an evening with two variants and a test click."""
    model = Model()
    for one in evening(names, variant(names, 1), variant(names, 2, redo=True)):
        model.take(one)
    model.take(click(names))
    model.part, model.chain = names.part, names.chain
    return model


def of_the_top(model: Model, columns: int) -> list[Text]:
    """Return the lines that always stand."""
    lines = [header(model, columns), rule(columns), state_line(model, QUIET, columns)]
    for here in STAGES:
        lines += path_lines(model.path(), here, columns)
        lines.append(key_line(KEYS[here], Settings(), columns))
    return lines


def of_the_stages(model: Model, columns: int) -> list[Text]:
    """Return what opens below each stage."""
    return [
        *di.lines(model, columns, ROWS, key=key),
        *send.lines(model, columns, ROWS, key=key),
        *chain.lines(model, columns, ROWS, key=key),
        *steps.lines(model, "amp", columns, ROWS, at=0, key=key),
        *steps.lines(model, "mics", columns, ROWS, at=0, key=key),
        *returns.lines(model, columns, ROWS, key=key),
        *variants.lines(model, columns, ROWS, at=0, key=key),
    ]


@settings(max_examples=60)
@given(names=names_of_anybody, columns=st.integers(60, 200))
def test_no_line_is_wider_than_the_screen_or_steers_it_whatever_things_are_called(
    names: Names, columns: int
) -> None:
    model = model_of(names)
    whole = [*of_the_top(model, columns), *evidence(variant(names, 2, redo=True), columns)]
    for line in whole:
        assert cell_len(line.plain) <= columns
    for line in [*whole, *of_the_stages(model, columns)]:
        assert line.plain.isprintable()
        assert cell_len(fitted(line, columns).plain) == columns


@pytest.mark.parametrize("columns", [80, 120, 200])
def test_with_ordinary_names_nothing_is_cut(columns: int) -> None:
    model = model_of(Names())
    shown = [*of_the_top(model, columns), *of_the_stages(model, columns)]
    shown += evidence(variant(Names(), 2, redo=True), columns)
    for line in shown:
        assert cell_len(line.plain) <= columns, line.plain
        assert not CUT.search(line.plain), line.plain


@pytest.mark.parametrize("columns", [60, 80, 200])
def test_a_session_with_nothing_in_it_has_lines_that_fit(columns: int) -> None:
    empty = Model()
    for line in [*of_the_top(empty, columns), *of_the_stages(empty, columns)]:
        assert cell_len(fitted(line, columns).plain) == columns
    empty.take(session(Names()))
    for line in [*of_the_top(empty, columns), *of_the_stages(empty, columns)]:
        assert cell_len(fitted(line, columns).plain) == columns


# ------------------------------------------------------------------ thousands


@given(st.integers(0, 60), st.integers(0, 70), st.integers(1, 20))
def test_of_a_long_list_as_many_lines_are_in_sight_as_there_is_room_for_the_chosen_one_among_them(
    count: int, at: int, rows: int
) -> None:
    seen = in_sight(count, at, rows)
    assert len(seen) == min(count, rows)
    assert list(seen) == [one for one in seen if one in range(count)]
    if count:
        assert min(at, count - 1) in seen


@pytest.mark.parametrize("at", [0, 1234, 2999])
def test_of_thousands_of_variants_and_chains_only_those_in_sight_are_drawn(
    at: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = [variant(Names(chain=f"chain {n % 700}"), n % 60) for n in range(3000)]
    model = Model()
    for one in evening(Names(), *many):
        model.take(one)
    model.chain = f"chain {at % 700}"
    made: list[str] = []
    monkeypatch.setattr(variants, "cut", lambda name, most: made.append(name) or cut(name, most))
    monkeypatch.setattr(chain, "cut", lambda name, most: made.append(name) or cut(name, most))
    listed = [line.plain for line in variants.lines(model, 80, ROWS, at=at, key=key)]
    chains = [line.plain for line in chain.lines(model, 80, ROWS, key=key)]
    assert any(one.startswith("  ▸ ") for one in listed)
    assert any(one.startswith(f"  ▸ chain {at % 700} ") for one in chains)
    assert len(made) <= 2 * ROWS
