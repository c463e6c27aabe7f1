"""Microphones against each other: close pairs first; and whether the round trip is constant."""

from setup_cases import cable, stands

from audio.verdict.constancy import findings_of_constancy, is_constant
from audio.verdict.stands import CLOSE_PAIR_CM, findings_of_polarity, headline_of_polarity
from audio.vocab.setup import PolarityResult

FIRST, SECOND, THIRD = (f"2026-11-2{day}T12:00:00+01:00" for day in (3, 4, 5))


def test_a_close_pair_that_is_upside_down_is_told_first_and_weighs_more() -> None:
    result = PolarityResult(
        returns=(
            stands("close"),
            stands("edge", 4.0, polarity="inverted"),
            stands("room", 210.0),
        )
    )
    found = findings_of_polarity(result)
    assert [(one.weight, one.text) for one in found] == [
        ("look", "edge is upside down against close, 4 cm apart."),
        ("good", "edge is upside down against room, 206 cm apart."),
    ]


def test_microphones_that_agree_are_no_finding_even_where_all_are_upside_down() -> None:
    both = (stands("close", polarity="inverted"), stands("edge", 4.0, polarity="inverted"))
    assert findings_of_polarity(PolarityResult(returns=both)) == ()


def test_an_unsure_polarity_is_never_a_finding() -> None:
    both = (stands("close"), stands("edge", 4.0, polarity="unsure"))
    assert findings_of_polarity(PolarityResult(returns=both)) == ()


def test_the_distance_at_which_a_pair_is_no_close_one_any_more() -> None:
    for cm, weight in ((CLOSE_PAIR_CM, "look"), (CLOSE_PAIR_CM + 1.0, "good")):
        pair = (stands("close"), stands("far", cm, polarity="inverted"))
        assert [one.weight for one in findings_of_polarity(PolarityResult(returns=pair))] == [
            weight
        ]


def test_the_headline_says_who_stands_where_and_who_was_not_heard() -> None:
    returns = (stands("rear", -3.0, polarity="inverted"), stands("close"), stands("room", None))
    said = headline_of_polarity(PolarityResult(returns=returns), references=("close",))
    assert said == "rear 3 cm before close; rear upside down; room not heard"


def test_microphones_on_two_amps_are_no_pair_and_stand_behind_their_own_amp_s_reference() -> None:
    result = PolarityResult(
        returns=(
            stands("left close", amp="left"),
            stands("left room", 100.0, amp="left"),
            stands("right close", amp="right", polarity="inverted"),
            stands("right room", 200.0, amp="right", polarity="inverted"),
        )
    )
    assert findings_of_polarity(result) == ()
    assert headline_of_polarity(result, references=("left close", "right close")) == (
        "left room 100 cm behind left close and right room 200 cm behind right close; "
        "right close and right room upside down"
    )
    mixed = PolarityResult(returns=(*result.returns[:3], stands("right edge", 4.0, amp="right")))
    (found,) = findings_of_polarity(mixed)
    assert found.text == "right close is upside down against right edge, 4 cm apart."


def test_one_microphone_on_each_amp_has_nothing_to_stand_behind() -> None:
    result = PolarityResult(returns=(stands("left", amp="a"), stands("right", amp="b")))
    said = headline_of_polarity(result, references=("left", "right"))
    assert said == "left and right are right side up"


def test_one_opening_proves_nothing() -> None:
    assert not is_constant(())
    assert not is_constant((cable(643.4, opening=FIRST), cable(643.4, opening=FIRST)))


def test_two_openings_that_agree_do() -> None:
    assert is_constant((cable(643.4, opening=FIRST), cable(643.42, opening=SECOND)))


def test_a_driver_that_starts_differently_is_found_however_often_it_agreed_before() -> None:
    openings = (cable(643.4, opening=FIRST), cable(643.4, opening=SECOND))
    moved = cable(1155.4, opening=THIRD)
    assert not is_constant((*openings, moved))
    (finding,) = findings_of_constancy(moved, openings)
    assert (finding.code, finding.weight) == ("converters-moved", "look")
    assert "512.0 frames (10.67 ms)" in finding.text


def test_the_same_delay_is_said_with_the_number_of_openings() -> None:
    openings = (cable(643.4, opening=FIRST), cable(643.4, opening=SECOND))
    (finding,) = findings_of_constancy(cable(643.4, opening=THIRD), openings)
    assert (finding.code, finding.weight) == ("converters-constant", "good")
    assert "at 3 openings" in finding.text


def test_an_opening_is_not_compared_with_itself_nor_with_a_cable_that_was_not_heard() -> None:
    before = (cable(1000.0, opening=FIRST), cable(None, opening=SECOND))
    assert findings_of_constancy(cable(643.4, opening=FIRST), before) == ()
