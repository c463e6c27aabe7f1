"""What a verdict rests on, in words and figures, whatever is known of a pass; and on the screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import msgspec
import pytest
from evidences import bare, changed, click, full, slipped
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import Names, evening, read
from puppet import Puppet
from rich.cells import cell_len
from screens import Seat, assert_fits, play, seated

from audio.jobs import news
from audio.jobs.runner import Runner
from audio.vocab.findings import Finding
from audio.vocab.variant import Variant
from tui.present.evidence_sheets import title
from tui.present.results import tell_variant
from tui.screens.evidence import evidence

NEW = ("proof", "loop", "witness", "music")
NEW_OF_A_FILE = ("extra_delay_ms", "extra_air_cm", "rest_noise_dbfs", "rest_hum_dbfs")


def old() -> Variant:
    """Return a pass as it was written before most of its evidence was kept."""
    plain: dict[str, Any] = msgspec.to_builtins(full())
    for name in NEW:
        del plain[name]
    for file in plain["files"]:
        for name in NEW_OF_A_FILE:
            del file[name]
    for one in (*plain["opening_click"], *plain["closing_click"]):
        del one["shape"]
        del one["arrivals"]
    return msgspec.json.decode(msgspec.json.encode(plain), type=Variant)


def one_click_more() -> Variant:
    return changed(full(), opening_click=(*full().opening_click, click(1.0)), closing_click=())


def no_files() -> Variant:
    return changed(full(), files=())


KINDS: tuple[Callable[[], Variant], ...] = (full, slipped, bare, old, one_click_more, no_files)


def words(one: Variant, columns: int = 78, **more: Any) -> str:
    lines = evidence(one, columns, **more)
    return " ".join(" ".join(line.plain for line in lines).split())


# ---------------------------------------------------------------- whatever is known


@settings(max_examples=60)
@given(
    kind=st.sampled_from(KINDS),
    columns=st.integers(40, 200),
    rows=st.sampled_from((24, 50)),
    span=st.integers(0, 3),
)
def test_no_line_is_wider_than_the_screen_whatever_is_known(
    kind: Callable[[], Variant], columns: int, rows: int, span: int
) -> None:
    one = kind()
    lines = evidence(one, columns, rows=rows, earlier=full(1), span=span)
    for line in [*lines, *title(one, columns, rows)]:
        assert cell_len(line.plain) <= columns, line.plain
        assert line.plain.isprintable()


@pytest.mark.parametrize("columns", [78, 158, 198])
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_cut_or_folded_where_there_is_room(
    kind: Callable[[], Variant], columns: int
) -> None:
    shown = evidence(kind(), columns, rows=50, earlier=full(1))
    assert not any("…" in line.plain for line in shown)
    tables = [
        line.plain for line in shown if "in rests" in line.plain or "over noise" in line.plain
    ]
    assert all(line.strip() for line in tables)


def test_a_wide_screen_shows_two_sheets_with_the_same_words() -> None:
    narrow, wide = evidence(full(), 78, rows=50), evidence(full(), 158, rows=50)
    assert len(wide) < len(narrow)
    assert set(words(full(), 158, rows=50).split()) == set(words(full(), 78, rows=50).split())


def test_a_pass_written_before_there_was_such_evidence_is_shown_without_it() -> None:
    shown = words(old())
    assert "clicks" in shown
    assert "703.87 ± 0.01" in shown
    assert "the pass: nothing was compared with the DI" in shown
    assert "+301.75 +6.29" in shown  # milliseconds follow from the frames, the air does not


def test_a_pass_of_which_nothing_is_known_says_so_in_words() -> None:
    shown = words(bare())
    assert "not placed: no click was heard" in shown
    assert "none were played" in shown
    assert "unsure: no clear click" in shown


def test_what_only_informs_is_a_note_below_the_verdict() -> None:
    note = Finding(code="chain-adds", weight="good", text="This chain adds 1.40 ms.")
    look = Finding(code="hum-up", weight="look", text="Hum is up.", at_s=41.0, advice="Lift it.")
    fine = words(changed(full(), findings=(note,)))
    assert fine.startswith("GOOD nothing to say against it note This chain adds 1.40 ms.")
    careful = words(changed(full(), verdict="look", findings=(note, look)))
    assert careful.startswith("LOOK 0:41 Hum is up. Lift it. note This chain adds 1.40 ms.")


def test_noise_before_and_in_the_rests_is_told_with_its_difference() -> None:
    shown = words(full())
    assert "close −84.0 −83.5 +0.5 50 Hz −91.5, −90.8 in rests" in shown
    assert "room −84.0 −79.2 +4.8" in shown
    assert "close −84.0 − − 50 Hz −91.5 " in words(old())
    assert "no rest of the DI was listened to" in words(old())
    assert "no rest" not in shown


# ---------------------------------------------------------------- command line and screen


def test_the_command_line_names_the_proof_and_the_microphones_distances(
    capsys: pytest.CaptureFixture[str],
) -> None:
    tell_variant(full())
    shown = capsys.readouterr().out
    assert "proof: loop, every frame in place, to 0.01 frames\n" in shown
    assert "room   peak  −16.8 dBFS   −28.4 LUFS  +6.29 ms, about +216 cm, inverted\n" in shown
    assert "close  peak  −11.8 dBFS   −23.4 LUFS\n" in shown


async def _looked_into(seat: Seat) -> None:
    """See the evidence of the second pass through a chain, and how the first one was."""
    shown = await seat.sees("GOOD nothing to say against it", "proof: loop", "first arrival")
    assert "every frame in place" in shown
    assert "pass 001: 702.37, +0.00" in shown
    assert "+0.5 ms" in shown
    await seat.press_named("plus")
    await seat.sees("+0.25 ms")
    await seat.press("minus", "minus", "minus", "minus")
    await seat.sees("+1 ms", "+2 ms")
    assert "along" not in seat.flow
    await seat.press_named("down")
    await seat.sees("along the pass", "+1", "−1")
    for _ in range(5):
        await seat.press("down")
    await seat.sees("in rests", "inverted, by the clicks", "in passes/rhythm-left/002/")
    for _ in range(7):
        await seat.press("up")
    await seat.sees("nothing to say against it")
    await seat.fits_everywhere()


def test_one_key_shows_the_evidence_and_the_same_key_goes_back(tmp_path: Path) -> None:
    puppet = Puppet(tmp_path, read=(read(full(2), earlier=full(1)),))

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await seat.told(*evening(Names(), full(1), full(2)))
            await seat.walk_to("variants")
            await seat.press("e")
            await _looked_into(seat)
            await seat.resize(160, 50)
            await seat.sees("clicks", "along", "noise", "mics", "files", "first arrival")
            assert_fits(seat.desk)
            await seat.press("e")
            await seat.sees("▸variants")

    play(flow())


def test_evidence_that_cannot_be_read_says_why_and_that_it_is_being_read_until_then(
    tmp_path: Path,
) -> None:
    puppet = Puppet(tmp_path)
    why = "variant.json is damaged; restore it from a copy"

    async def flow() -> None:
        async with seated(tmp_path, bring=lambda: cast("Runner", puppet), ready=False) as seat:
            await seat.told(*evening(Names(), full(1), full(2)))
            await seat.walk_to("variants")
            await seat.press("e")
            await seat.sees("rhythm-left 002", "reading what the pass left")
            puppet.tell(read(full(1)))  # another one's answer
            await seat.settle()
            await seat.sees("reading what the pass left")
            puppet.tell(news.VariantRead(part="rhythm-left", number=2, variant=None, problem=why))
            assert "reading" not in await seat.sees(why)
            await seat.fits_everywhere()

    play(flow())
