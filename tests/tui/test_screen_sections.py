"""A section on the screen: asked for, shown, refused with the way out, dropped into a whole pass."""

from __future__ import annotations

from pathlib import Path

from needs import needs_samples
from screens import play, seated
from told_sessions import session_of

from audio.vocab.section import Covers, Section

pytestmark = needs_samples()

OF_BARS = Covers(text="bars 5-8", from_frame=0, frames=9, section_from_frame=1, section_to_frame=8)


def test_a_section_is_asked_for_shown_and_taken_back(tmp_path: Path) -> None:
    session = session_of(tmp_path, 1)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            model = seat.desk.model
            await seat.press("6")
            await seat.sees("Which bars or seconds?")
            await seat.type("chorus")
            await seat.press("enter")
            await seat.sees("'chorus' is no section; write bars such as 5-8")
            await seat.press(*["backspace"] * len("chorus"))
            await seat.until(lambda: "riff" in model.dis, "the DI was never read")
            await seat.type("900-999 s")
            await seat.press("enter")
            await seat.sees("riff: 900-999 s: the DI is", "ask for a stretch of that")
            await seat.press(*["backspace"] * len("900-999 s"))
            await seat.type("0.2-1 s")
            await seat.press("enter")
            await seat.sees("riff 0.2-1 s")
            assert model.section() == Section(from_s=0.2, to_s=1.0)
            model.part, was = "another", model.part
            assert model.section() is None  # another part is played whole
            model.part = was
            await seat.press("6", *["backspace"] * len("0.2-1 s"), "enter")
            assert model.section() is None

    play(flow())


def test_only_a_variant_of_a_section_is_dropped_into_one_of_the_whole(tmp_path: Path) -> None:
    session = session_of(tmp_path, 3, covers=OF_BARS)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("variants")
            await seat.press("9")
            await seat.sees("003 is of bars 5-8. Drop it into which variant?", "2")
            await seat.press("backspace", "7", "enter")
            await seat.sees("7 is no variant of the whole part; there are: 2, 1")
            await seat.press("escape", "down", "9")
            await seat.sees("only a variant of a section can be dropped into another one")

    play(flow())
