"""The recall sheet's page: everything is on it, and nothing from outside gets out of its place."""

from __future__ import annotations

from collections import Counter
from importlib.resources import files
from typing import Any

import pytest
from msgspec.structs import replace
from sheet_cases import Page, everything, microphone

from audio.handover.sheet import sheet_page
from audio.handover.sheet_chain import NOBODY
from audio.vocab.alignment import Alignment, Slip
from audio.vocab.characters import escaped
from audio.vocab.section import Covers
from audio.vocab.sheet import Sheet, SheetSound
from audio.vocab.variant import Joined

TAGS = frozenset(
    (
        *("html", "head", "meta", "title", "style", "body", "header", "main", "nav", "section"),
        *("article", "h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "dl", "div", "dt", "dd"),
        *("a", "b", "bdi", "span", "code", "pre", "table", "caption", "thead", "tbody", "tr"),
        *("th", "td", "figure", "figcaption", "img"),
    )
)
ATTRIBUTES = frozenset(
    (
        *("lang", "charset", "name", "content", "http-equiv", "class", "id", "href", "role"),
        *("aria-label", "aria-labelledby", "tabindex", "scope", "src", "alt", "dir"),
        *("width", "height"),
    )
)
HOSTILE = "</style></title><script src=x>alert(\"1\")</script><img onerror='y'> ]]> & &lt; \u202egnp\u0007"


def of_sound(**changes: Any) -> Sheet:
    """Return the sheet with its one sound changed."""
    sheet = everything()
    part = sheet.parts[0]
    sound = replace(part.sounds[0], **changes)
    return replace(sheet, parts=(replace(part, sounds=(sound,)),))


def text_of(sheet: Sheet) -> str:
    return Page(sheet_page(sheet)).text


def the_sound() -> SheetSound:
    return everything().parts[0].sounds[0]


def test_every_setting_figure_and_word_is_on_the_page() -> None:
    told: list[str] = []

    def words(name: str) -> str:
        told.append(f"<{name}>")
        return told[-1]

    text = text_of(everything(words))
    hidden = {"<summary>"}  # two words for the path on the screen; the headline says it whole
    assert [one for one in told if one not in text and one not in hidden] == []
    for figure in ("−11.9", "−24.6", "+6.13 ms, +211 cm", "−6.5", "1155.37 ± 0.02 frames", "2 ×"):
        assert figure in text, figure
    for figure in (
        "416.9 ± 0.2 ms",
        "1.40 ms over the bare path",
        "+134.4 ± 0.50 frames",
        "−1.5 dB",
    ):
        assert figure in text, figure


def test_hostile_text_in_every_field_stays_text() -> None:
    told: list[str] = []

    def words(name: str) -> str:
        told.append(f"{name} {HOSTILE}")
        return told[-1]

    page = Page(sheet_page(everything(words)))
    assert {name for name, _ in page.tags} <= TAGS
    assert {key for _, held in page.tags for key in held} <= ATTRIBUTES
    assert page.open == []
    assert page.style == (files("audio.handover") / "sheet.css").read_text(encoding="utf-8")
    missing = [one for one in told if " ".join(escaped(one).split()) not in page.text]
    assert {one.split(" </style")[0] for one in missing} == {"summary"}
    assert "\u202e" not in page.text
    assert "\u0007" not in page.text


def test_no_address_leads_anywhere_but_into_the_page() -> None:
    page = Page(sheet_page(everything()))
    ids = Counter(held["id"] for _, held in page.tags if "id" in held)
    assert max(ids.values()) == 1
    for _, held in page.tags:
        if "href" in held:
            assert str(held["href"]).removeprefix("#") in ids
        if "src" in held:
            assert str(held["src"]).startswith(
                ("data:image/svg+xml;base64,", "data:image/jpeg;base64,")
            )


def test_a_page_is_the_same_each_time() -> None:
    assert sheet_page(everything()) == sheet_page(everything())


def test_names_that_run_the_other_way_are_held_apart() -> None:
    arabic = "\u0635\u0648\u062a"
    page = sheet_page(everything(lambda name: f"{arabic} {name}"))
    for name in ("close", "drive", "song", "reason", "original"):
        assert f"<bdi>{arabic} {name}</bdi>" in page, name


def test_signal_order_is_the_order_of_the_card() -> None:
    text = text_of(everything())
    order = ["send output 3", "drive knob 2:30", "amp left", "delay in the loop", "speaker of left"]
    order += ["amp right", "microphone close", "microphone room"]
    places = [text.index(one) for one in order]
    assert places == sorted(places)


def test_a_chain_without_settings_is_said_to_have_none() -> None:
    text = text_of(of_sound(chain=None))
    assert NOBODY in text
    assert "microphone close nobody wrote its place down at amp left into input 2" in text


def test_a_distance_that_was_measured_stands_at_its_microphone() -> None:
    text = text_of(everything())
    assert "measured 211 cm further away than the reference" in text
    assert text.count("than the reference at amp") == 1


def test_settings_that_are_no_chain_stand_as_they_were_found() -> None:
    text = text_of(of_sound(chain=None, loose_settings='{"pedals": ["fuzz <7>"]}'))
    assert '{"pedals": ["fuzz <7>"]}' in text
    assert NOBODY not in text


def test_a_corrected_chain_says_what_the_files_still_say() -> None:
    assert "its files and record still say chain as recorded" in text_of(everything())


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("kept", "played to its end"),
        ("stopped", "stopped by hand or by the program"),
        ("recovered", "recovered after a crash"),
    ],
)
def test_how_a_pass_ended_is_told(state: str, words: str) -> None:
    text = text_of(of_sound(variant=replace(the_sound().variant, state=state)))
    assert words in text


def test_a_drop_in_tells_what_it_is_made_of() -> None:
    made = Joined(base=2, section=5, from_frame=48_000, to_frame=96_000, fade_frames=960)
    variant = replace(the_sound().variant, state="joined", joined=made)
    words = "a drop-in: 002, and from 0:01.00 to 0:02.00 the section 005, faded over 20 ms"
    assert words in text_of(of_sound(variant=variant))


def test_a_section_tells_its_bars_and_has_no_command() -> None:
    covers = Covers(
        text="bars 5-8",
        from_frame=24_000,
        frames=96_000,
        section_from_frame=48_000,
        section_to_frame=96_000,
    )
    phrase = the_sound().phrase
    assert phrase is not None
    sheet = of_sound(
        variant=replace(the_sound().variant, covers=covers), phrase=replace(phrase, sound="")
    )
    text = text_of(sheet)
    assert "bars 5-8: 0:01.00 to 0:02.00 of the DI; its files begin at 0:00.50 of it" in text
    assert "secondpass set DIR" not in text
    assert "it is a section" in text


def test_the_command_is_one_a_shell_takes_apart_again() -> None:
    phrase = the_sound().phrase
    assert phrase is not None
    sheet = of_sound(chain_name="fuzz 'n' delay", phrase=replace(phrase, sound=""))
    text = text_of(sheet)
    assert "secondpass set DIR --step sound --part part" in text
    assert "--chain 'fuzz '\"'\"'n'\"'\"' delay' --sound 'part 003'" in text


def test_an_older_edit_is_not_offered_for_a_comparison() -> None:
    text = text_of(of_sound(newest_revision=2))
    assert "it was made of edit 1, and the newest is 2" in text
    assert "secondpass set DIR" not in text


def test_without_figures_the_reason_stands_in_their_place() -> None:
    text = text_of(of_sound(told=None, phrase=None, untold="close.wav cannot be opened"))
    assert "There are no figures: close.wav cannot be opened" in text


def test_without_wiring_setup_and_clicks_a_sheet_is_made_all_the_same() -> None:
    bare = replace(
        the_sound().variant,
        delay_frames=None,
        plus_minus_frames=None,
        opening_click=(),
        chain_adds_frames=None,
        echo=None,
        files=(microphone("close", 2, loudness_lufs=None, noise_dbfs=None, hum_dbfs=None),),
    )
    text = text_of(of_sound(variant=bare, wiring=None, setup=(), unset=(), recorded=None))
    assert "its record cannot be read" in text
    assert "not placed" in text
    assert "nobody noted how" in text


def test_frames_that_are_missing_are_told_with_their_place() -> None:
    slip = Slip(at_frame=48_000, within_frames=10, frames=-64)
    loop = Alignment(delay_frames=-4.6, slips=(slip,))
    text = text_of(of_sound(variant=replace(the_sound().variant, proof="loop", loop=loop)))
    assert "by the loop: 64 frames lost at 0:01.00" in text


def test_a_photo_of_two_sounds_lies_in_the_page_once() -> None:
    sheet = everything()
    part = sheet.parts[0]
    page = sheet_page(replace(sheet, parts=(replace(part, sounds=part.sounds * 2),)))
    assert page.count("data:image/jpeg") == 1
    assert 'href="#sound-1-1-photo-1"' in page


def test_a_level_in_volts_is_that_of_a_sine() -> None:
    # 18 dBu less 3 dB of peak less 3 dB of trim are 12 dBu; 0.7746 V · 10^(12/20) = 3.084 V
    assert "12.0 dBu (3.084 V RMS)" in text_of(everything())
