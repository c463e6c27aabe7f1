"""Which cables of an audio server changed, in an engineer's words."""

from __future__ import annotations

from audio.device.patch import Change, compare

US = "PortAudio-01"
CLOSE = ("desk 8:capture_2", f"{US}:in_1")
SEND = (f"{US}:out_2", "desk 8:playback_3")


def test_cables_that_stay_are_no_change() -> None:
    assert compare(frozenset({CLOSE, SEND}), frozenset({SEND, CLOSE})) is None


def test_a_cable_that_is_gone_and_one_that_came_are_told_apart() -> None:
    other = ("browser:out_0", "desk 8:playback_3")
    assert compare(frozenset({CLOSE, SEND}), frozenset({CLOSE, other})) == Change((SEND,), (other,))


def test_our_own_ports_are_called_by_their_channel_from_1() -> None:
    assert Change((CLOSE,), ()).sentence(client=US) == (
        "the audio server's patch changed under the stream:"
        " 'desk 8:capture_2' is not connected to input 2 any more"
    )
    assert "output 3 is not connected to 'desk 8:playback_3' any more" in Change(
        (SEND,), ()
    ).sentence(client=US)


def test_what_is_pulled_is_told_before_what_is_put_and_the_rest_is_counted() -> None:
    put = ("desk 8:capture_3", f"{US}:in_1")
    said = Change((CLOSE,), (put, ("x:y", "z:w"))).sentence(client=US)
    assert "input 2 any more, and 2 more changed" in said
    assert (
        Change((), (put,))
        .sentence(client=US)
        .endswith("'desk 8:capture_3' is now connected to input 2")
    )


def test_a_client_whose_name_begins_like_ours_is_somebody_else() -> None:
    other = ("desk 8:capture_2", "PortAudio-011:in_1")
    assert "'PortAudio-011:in_1'" in Change((other,), ()).sentence(client=US)


def test_cables_are_told_in_the_order_of_their_channels() -> None:
    pulled = frozenset((f"desk 8:capture_{n}", f"{US}:in_{n - 1}") for n in (10, 2))
    change = compare(pulled, frozenset())
    assert change is not None
    assert change.pulled[0] == CLOSE
