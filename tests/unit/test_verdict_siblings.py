from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    LOUD_DBFS,
    NOISE_DBFS,
    WIRING,
    codes,
    earlier,
    ended,
    measures,
    order,
    recorded,
    the,
    verdict,
)

from audio.verdict.sizes import MINIMUM_SIZES
from audio.vocab.findings import worst
from audio.vocab.results import ClickReading, PassMeasures


def turned(*, close: str = "normal", room: str = "normal") -> Any:
    clicks = (replace(CLOSING[0], polarity=close), replace(CLOSING[1], polarity=room))
    return order(opening_click=clicks)


def test_a_polarity_that_changed_since_the_chains_last_variant_is_worth_a_look() -> None:
    found = the("polarity-changed", verdict(of=turned(room="inverted"), before=(earlier(4),)))
    assert found.weight == "look"
    assert found.text.startswith("room came back with the other polarity than pass 004")
    assert "cable" in found.advice


def test_all_returns_turned_together_point_at_the_send() -> None:
    one = turned(close="inverted", room="inverted")
    found = the("polarity-changed", verdict(of=one, before=(earlier(),)))
    assert "close and room" in found.text
    assert "The send, a pedal" in found.advice


@pytest.mark.parametrize(
    "before",
    [
        (),
        (earlier(room={"polarity": "inverted"}),),  # it always was
        (earlier(room={"polarity": "unsure"}),),
        (earlier(chain=replace(earlier().chain, name="another")),),
        (earlier(4), earlier(5, room={"polarity": "inverted"})),  # the last one counts
    ],
)
def test_a_rear_microphone_that_did_not_change_is_a_word_only(before: Any) -> None:
    found = verdict(of=turned(room="inverted"), before=before)
    assert codes(found) == ["polarity-differs"]
    assert worst(found) == "good"


def test_an_unsure_polarity_is_no_change() -> None:
    assert verdict(of=turned(room="unsure"), before=(earlier(),)) == ()


def test_the_last_variant_that_knew_its_polarity_is_compared() -> None:
    before = (earlier(4), earlier(5, room={"polarity": "unsure"}))
    found = the("polarity-changed", verdict(of=turned(room="inverted"), before=before))
    assert "004" in found.text


# ------------------------------------------------------------------ level


def louder(db: float) -> PassMeasures:
    files = measures()
    close = replace(files.returns[0], loudness_lufs=-20.0 + db)
    return replace(files, returns=(close, files.returns[1]))


@pytest.mark.parametrize(("db", "word"), [(3.0, "louder"), (-3.0, "quieter"), (12.0, "louder")])
def test_a_level_three_decibels_from_its_siblings_is_worth_a_look(db: float, word: str) -> None:
    found = the("level-off", verdict(files=louder(db), before=(earlier(),)))
    assert found.weight == "look"
    assert f"close is {abs(db):.1f} dB {word}" in found.text
    assert MINIMUM_SIZES["level-off"].value <= abs(db)


def test_returns_that_went_either_way_are_one_line() -> None:
    files = louder(4.0)
    room = replace(files.returns[1], loudness_lufs=-31.0)
    files = replace(files, returns=(files.returns[0], room))
    found = the("level-off", verdict(files=files, before=(earlier(),)))
    assert found.text.startswith("close is 4.0 dB louder and room is 11.0 dB quieter than earlier")


def test_a_level_that_a_modulation_moves_is_none() -> None:
    assert verdict(files=louder(2.0), before=(earlier(),)) == ()


def test_a_knob_turned_on_purpose_is_told_once() -> None:
    before = (earlier(4), earlier(5, close={"loudness_lufs": -14.0}))
    assert verdict(files=louder(6.2), before=before) == ()


@pytest.mark.parametrize(
    "changes",
    [
        {"trim_db": -3.0},
        {"state": "stopped"},
        {"verdict": "redo"},
        {"di": replace(order().di, file_sha256="1" * 64)},
        {"chain": replace(order().chain, name="another")},
        {"setup": {"wiring": "kept as a name only"}},
        {"setup": {}},
        {"sample_rate": 96_000},
        {"close": {"input": 4}},
        {"close": {"loudness_lufs": None}},
        {"files": ()},
    ],
)
def test_only_alike_variants_are_siblings(changes: dict[str, Any]) -> None:
    assert verdict(files=louder(9.0), before=(earlier(**changes),)) == ()


def test_a_pass_cut_short_is_not_compared_in_level() -> None:
    end = ended(reason="stopped")
    found = verdict(end=end, files=louder(9.0), closing=(), witness=None, before=(earlier(),))
    assert "level-off" not in codes(found)


def test_another_wiring_of_the_same_device_is_another_setup() -> None:
    moved = earlier(setup={"wiring": msgspec.to_builtins(replace(WIRING, send_output=4))})
    assert verdict(files=louder(9.0), before=(moved,)) == ()


# ------------------------------------------------------------------ noise and hum


def hiss(db: float, **changes: Any) -> tuple[ClickReading, ...]:
    """Clicks with so much more noise on ``close``."""
    return (replace(CLOSING[0], noise_dbfs=NOISE_DBFS + db, **changes), CLOSING[1])


def test_noise_up_since_the_last_variant_is_worth_a_look() -> None:
    one = order(opening_click=hiss(10.0))
    found = the("noise-up", verdict(of=one, closing=hiss(10.0), before=(earlier(4),)))
    assert found.weight == "look"
    assert found.text == "Noise came up on close by 10 dB since pass 004 (now −70 dBFS)."
    assert MINIMUM_SIZES["noise-up"].value == 10.0


def test_noise_on_several_returns_is_one_line() -> None:
    clicks = tuple(
        replace(r, noise_dbfs=r.noise_dbfs + db) for r, db in zip(CLOSING, (12, 20), strict=True)
    )
    found = verdict(of=order(opening_click=clicks), closing=clicks, before=(earlier(4),))
    assert [f.text for f in found] == [
        "Noise came up on close and room, by up to 20 dB since pass 004 (now −60 dBFS on room)."
    ]


def test_noise_that_came_up_with_the_level_is_told_as_level() -> None:
    one = order(opening_click=hiss(13.0))
    found = verdict(of=one, closing=hiss(13.0), files=louder(12.5), before=(earlier(),))
    assert codes(found) == ["level-off"]
    apart = verdict(of=one, closing=hiss(13.0), files=louder(4.0), before=(earlier(),))
    assert codes(apart) == ["level-off", "noise-up"]


def test_noise_that_wanders_by_three_decibels_is_none() -> None:
    one = order(opening_click=hiss(3.0))
    assert verdict(of=one, closing=hiss(3.0), before=(earlier(),)) == ()


def test_noise_nobody_hears_is_not_told() -> None:
    one = order(opening_click=tuple(replace(r, noise_dbfs=-105.0) for r in CLOSING))
    quiet = {"noise_dbfs": -125.0}
    before = (earlier(close=quiet, room=quiet),)
    assert verdict(of=one, closing=one.opening_click, before=before) == ()


def test_noise_that_came_up_while_it_played_shows_at_the_closing_click() -> None:
    found = the("noise-up", verdict(closing=hiss(14.0)))
    assert "by 14 dB while it played" in found.text


def test_hum_is_told_as_hum_and_not_again_as_noise() -> None:
    humming = hiss(20.0, hum_hz=50, hum_dbfs=NOISE_DBFS + 20.0)
    one = order(opening_click=humming)
    found = verdict(of=one, closing=humming, before=(earlier(4),))
    assert codes(found) == ["hum-up"]
    assert "ground lift" in found[0].advice
    assert "mains safety earth" in found[0].advice


def test_hum_under_the_noise_then_is_compared_with_that_noise() -> None:
    faint = hiss(1.0, hum_hz=50, hum_dbfs=NOISE_DBFS + 1.0)
    one = order(opening_click=faint)
    assert verdict(of=one, closing=faint, before=(earlier(),)) == ()


def rests(dbfs: float | None, hum: float | None = None) -> PassMeasures:
    files = measures()
    close = replace(files.returns[0], rest_noise_dbfs=dbfs, rest_hum_dbfs=hum)
    return replace(files, returns=(close, files.returns[1]))


def test_rests_that_got_noisier_than_the_same_dis_last_pass_are_worth_a_look() -> None:
    before = (earlier(4, close={"rest_noise_dbfs": -60.0}),)
    found = the("noise-up", verdict(files=rests(-48.0), before=before))
    assert "in the rests since pass 004" in found.text
    assert verdict(files=rests(-57.0), before=before) == ()


def test_rests_of_another_trim_are_not_compared() -> None:
    before = (earlier(4, trim_db=-6.0, close={"rest_noise_dbfs": -60.0}),)
    assert verdict(files=rests(-48.0), before=before) == ()


def test_rests_noisier_than_before_the_pass_may_be_the_dis_own_hiss_through_a_fuzz() -> None:
    hissing = replace(rests(-40.0), di_levels_dbfs=((LOUD_DBFS,) * 10 + (-85.0,) * 10) * 60)
    assert "noise-up" not in codes(verdict(files=hissing, closing=(), witness=None))
    cut = replace(hissing, di_levels_dbfs=((LOUD_DBFS,) * 10 + (-200.0,) * 10) * 60)
    found = the("noise-up", verdict(files=cut, closing=(), witness=None))
    assert "in the rests" in found.text


def test_rests_that_a_long_tail_still_fills_are_no_noise() -> None:
    fading = [LOUD_DBFS - 0.3 * i for i in range(120)]  # 6 dB a second
    ringing = replace(recorded(fading), rest_noise_dbfs=-40.0)
    files = replace(measures(), returns=(ringing, measures().returns[1]))
    before = (earlier(4, close={"rest_noise_dbfs": -80.0}),)
    end = ended(reason="complete")
    assert "noise-up" not in codes(verdict(end=end, files=files, before=before))
    steady = replace(ringing, levels_dbfs=(LOUD_DBFS,) * 60 + (-45.0,) * 60)
    files = replace(measures(), returns=(steady, measures().returns[1]))
    assert "noise-up" in codes(verdict(end=end, files=files, before=before))


# ------------------------------------------------------------------ properties


@given(
    st.lists(
        st.builds(
            earlier,
            st.integers(1, 6),
            close=st.fixed_dictionaries(
                {
                    "loudness_lufs": st.none() | st.floats(-70, 0),
                    "noise_dbfs": st.none() | st.floats(-200, 0),
                    "hum_dbfs": st.none() | st.floats(-200, 0),
                    "rest_noise_dbfs": st.none() | st.floats(-200, 0),
                    "polarity": st.sampled_from(["normal", "inverted", "unsure"]),
                }
            ),
        ),
        max_size=4,
    )
)
def test_whatever_was_before_never_makes_a_good_pass_one_to_redo(before: list[Any]) -> None:
    assert worst(verdict(before=tuple(before))) != "redo"


@given(st.floats(-40, 40))
def test_level_is_told_alike_whichever_way_it_went(db: float) -> None:
    one = codes(verdict(files=louder(db), before=(earlier(),)))
    assert one == codes(verdict(files=louder(-db), before=(earlier(),)))
