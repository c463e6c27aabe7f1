"""The cue in a wiring file: read, written, refused where nobody would hear it or the amp could."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wiring_cases import WHOLE, parsed

from audio.plan.setup import same_cables
from audio.vocab.errors import UseError
from audio.vocab.wiring import Cue
from audio.vocab.wiring_file import read_wiring
from audio.vocab.wiring_text import wiring_text

HERE = Path(__file__).parents[2]
CUE = "cue: {backing_db: -6, count_in_bars: 1, count_in_dbfs: -20}\n"


def test_a_cue_is_read_and_what_is_left_out_is_not_played() -> None:
    assert parsed(WHOLE + CUE).cue == Cue(backing_db=-6.0, count_in_bars=1, count_in_dbfs=-20.0)
    assert parsed(WHOLE + "cue: {count_in_bars: 2}\n").cue == Cue(count_in_bars=2)
    assert parsed(WHOLE + "cue: {backing_db: 0}\n").cue == Cue(backing_db=0.0)
    assert parsed(WHOLE).cue is None


@given(backing=st.none() | st.floats(-60, 0), bars=st.integers(1, 4), dbfs=st.floats(-60, -6))
def test_a_written_cue_reads_back(backing: float | None, bars: int, dbfs: float) -> None:
    cue = Cue(backing_db=backing, count_in_bars=bars, count_in_dbfs=dbfs)
    wiring = msgspec.structs.replace(parsed(WHOLE), cue=cue)
    assert parsed(wiring_text(wiring)) == wiring


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("cue: {backing_db: 3}\n", r"line 18: cue backing_db is 3; write a number from -60 to 0"),
        ("cue: {count_in_bars: 5}\n", r"line 18: cue count_in_bars is 5; write a whole number from 0 to 4"),
        ("cue: {count_in_bars: 1, count_in_dbfs: 0}\n", r"count_in_dbfs is 0; .* from -60 to -6"),
        ("cue: {backing: -6}\n", r"unknown key 'cue backing'; did you mean backing_db\?"),
        ("cue: {}\n", r"line 18: the cue plays nothing; write cue: \{backing_db: -6"),
        ("cue: loud\n", r"line 18: cue is 'loud'; write cue: \{backing_db: -6"),
    ],
)  # fmt: skip
def test_a_wrong_cue_is_refused_once_with_its_line(text: str, said: str) -> None:
    with pytest.raises(UseError, match=said) as refused:
        parsed(WHOLE + text)
    assert len(str(refused.value).splitlines()) == 1, refused.value


def test_a_cue_that_nobody_hears_is_refused() -> None:
    text = WHOLE.replace("listen: {outputs: [1, 2]}\n", "") + CUE
    with pytest.raises(UseError, match=r"line 17: a cue is wired, but no output people listen on"):
        parsed(text)


@pytest.mark.parametrize(("outputs", "said"), [("[1, 3]", "is the send"), ("[7, 8]", "the loop's")])
def test_a_cue_on_an_output_that_leads_to_the_amp_is_refused(outputs: str, said: str) -> None:
    with pytest.raises(UseError, match=said):
        parsed(WHOLE.replace("[1, 2]", outputs) + CUE)


def test_switching_the_cue_leaves_every_setting_standing() -> None:
    assert same_cables(parsed(WHOLE), parsed(WHOLE + CUE))


def test_the_example_and_the_demo_have_one() -> None:
    for path in ("configs/wirings/eight-in-eight-out.yaml", "demo/wiring.yaml"):
        assert read_wiring(HERE / path).cue == Cue(backing_db=-6.0, count_in_bars=1)
