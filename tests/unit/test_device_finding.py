"""Finding the device a wiring names among those a system lists."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.device.finding import check_channels, find
from audio.device.hosts import JACK, rule_for
from audio.vocab.devices import DeviceFacts
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

ALSA = "ALSA"


def device(name: str, *, host: str = ALSA, inputs: int = 8, outputs: int = 8) -> DeviceFacts:
    return DeviceFacts(host=host, name=name, inputs=inputs, outputs=outputs, default_rate=48000.0)


def place(name: str, *devices: DeviceFacts, host: str = ALSA) -> int:
    named = PortAudioDevice(host=host, name=name)
    return find(named, hosts=[ALSA, "ASIO"], devices=devices)


def wiring(*, input_: int, send: int) -> Wiring:
    return Wiring(
        name="w",
        device=PortAudioDevice(host=ALSA, name="box"),
        sample_rate=48000,
        send_output=send,
        returns=(Return("close", input_),),
        reference="close",
    )


def test_the_exact_name_wins_over_one_in_another_case() -> None:
    assert place("Box", device("BOX"), device("Box"), device("box")) == 1


def test_one_name_in_another_case_is_taken_two_are_not() -> None:
    assert place("box", device("other"), device("BOX"), host="alsa") == 1
    with pytest.raises(
        UseError, match="no device on ALSA is called 'box'; it offers: 'BOX', 'Box'"
    ):
        place("box", device("BOX"), device("Box"))


def test_the_same_name_on_another_host_is_another_device() -> None:
    assert place("box", device("box", host="ASIO"), device("box")) == 1
    with pytest.raises(UseError, match="none that both plays and records"):
        place("box", device("box", host="ASIO"))


def test_part_of_a_name_is_not_the_name() -> None:
    with pytest.raises(UseError, match="it offers: 'box 2'"):
        place("box", device("box 2"))


def test_an_input_and_an_output_of_one_name_are_two_clocks() -> None:
    halves = device("box", outputs=0), device("box", inputs=0)
    with pytest.raises(UseError, match="two clocks drift apart"):
        place("box", *halves)
    assert place("box", *halves, device("box")) == 2


@pytest.mark.parametrize(
    ("inputs", "outputs", "says"),
    [(2, 0, "only records"), (0, 2, "only plays"), (0, 0, "sees no channels")],
)
def test_half_a_device_is_refused_with_the_reason(inputs: int, outputs: int, says: str) -> None:
    with pytest.raises(UseError, match=says):
        place("box", device("box", inputs=inputs, outputs=outputs))


def test_two_devices_of_one_name_are_not_guessed_between() -> None:
    with pytest.raises(UseError, match="2 devices on ALSA are called 'box'; unplug all but one"):
        place("box", device("box"), device("box"))


def test_a_missing_jack_host_means_that_no_server_runs() -> None:
    with pytest.raises(DeviceError, match="no JACK server answers"):
        place("box", host=JACK)
    with pytest.raises(UseError, match="no audio host called 'Jack'; it has: ALSA, ASIO"):
        place("box", host="Jack")


@given(
    has_in=st.integers(1, 64), has_out=st.integers(1, 64),
    input_=st.integers(1, 64), send=st.integers(1, 64),
)  # fmt: skip
def test_channels_are_accepted_exactly_when_the_device_has_them(
    has_in: int, has_out: int, input_: int, send: int
) -> None:
    facts = device("box", inputs=has_in, outputs=has_out)
    if input_ <= has_in and send <= has_out:
        check_channels(wiring(input_=input_, send=send), facts)
    else:
        with pytest.raises(UseError, match=r"uses (input|output) \d+, but 'box' has \d+"):
            check_channels(wiring(input_=input_, send=send), facts)


def test_integer_hosts_get_integers_and_only_a_server_rules_the_block() -> None:
    assert rule_for("ALSA").sample_format == "int32"
    assert rule_for("ASIO").sample_format == "int32"
    assert rule_for(JACK).sample_format == "float32"
    assert rule_for("a host nobody knows").sample_format == "float32"
    assert [h for h in (JACK, "ALSA", "ASIO", "Core Audio") if rule_for(h).server_period] == [JACK]
