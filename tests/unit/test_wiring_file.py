"""The wiring file: read strictly, every mistake at once, and written so that it reads back."""

from pathlib import Path

import msgspec
import pytest
import typed
import yaml
from hypothesis import given
from hypothesis import strategies as st
from wiring_cases import SIMULATED, WHOLE, changed, parsed

from audio.vocab.wiring import (
    Amp,
    Bell,
    Click,
    DiBox,
    Hum,
    Loop,
    Microphone,
    PortAudioDevice,
    ReampBox,
    Return,
    SimulatedDevice,
    Wiring,
)
from audio.vocab.wiring_file import RATES, read_wiring
from audio.vocab.wiring_text import wiring_text

EXAMPLES = sorted((Path(__file__).parents[2] / "configs" / "wirings").glob("*.yaml"))

# ------------------------------------------------------------------ what is right


def test_every_key_means_what_the_design_says() -> None:
    assert parsed(WHOLE) == Wiring(
        name="tracking room",
        device=PortAudioDevice(host="JACK Audio Connection Kit", name="reamp-room"),
        sample_rate=48000,
        block_frames=512,
        send_output=3,
        returns=(Return(name="close", input=2), Return(name="room", input=3)),
        reference="close",
        witness_input=5,
        loop=Loop(output=8, input=8),
        listen_outputs=(1, 2),
        align_to="di",
        depth=24,
        click=Click(start_dbfs=-40, ceiling_dbfs=-12),
        tail_s=12,
        room_celsius=23.5,
    )


def test_what_may_be_left_out_has_the_usual_value() -> None:
    wiring = parsed(
        "name: a\ndevice: {kind: portaudio, host: ALSA, name: 'hw:1,0'}\nsample_rate: 96000\n"
        "send: {output: 2}\nreturns: [{name: room, input: 2}, {name: close, input: 1}]\n"
    )
    assert wiring == Wiring(
        name="a",
        device=PortAudioDevice(host="ALSA", name="hw:1,0"),
        sample_rate=96000,
        send_output=2,
        returns=(Return(name="room", input=2), Return(name="close", input=1)),
        reference="room",
    )


def test_the_simulated_room_is_read_field_by_field() -> None:
    assert parsed(SIMULATED).device == SimulatedDevice(
        pace="free",
        inputs=6,
        outputs=4,
        seed=7,
        converter_frames=100.25,
        amp=Amp(drive_db=30, asymmetry=0.1, clean=False),
        microphones=(
            Microphone(input=1, distance_cm=3.5, cabinet="open back", gain_db=-3, inverted=True),
            Microphone(input=2),
        ),
        noise_dbfs=-70,
        hum=Hum(hz=60, level_dbfs=-55),
        crosstalk_db=-60,
        chains={
            "fuzz": ({"pedal": "drive", "gain_db": 30, "tone": [1, 2]}, {"pedal": "gate"}),
            "nothing in it": (),
        },
        faults=({"fault": "dead cable", "at_s": 2.5, "really": True, "note": None},),
    )


def test_the_amps_tone_control_is_read_and_may_say_no_more_than_its_gain() -> None:
    for written, bell in (
        ("{hz: 2500, db: -2, q: 0.7}", Bell(hz=2500, db=-2, q=0.7)),
        ("{db: 2}", Bell(hz=3000, db=2, q=1)),
    ):
        text = changed("clean: false", f"clean: false, bell: {written}", text=SIMULATED)
        device = parsed(text).device
        assert isinstance(device, SimulatedDevice)
        assert device.amp == Amp(drive_db=30, asymmetry=0.1, bell=bell)


def test_the_boxes_are_read_and_written_only_where_they_are_not_the_usual_ones() -> None:
    boxes = (
        "  reamp: {gain_db: 6, one_leg_dead: true, highs_hz: 8000, inverted: true}\n"
        "  di_box: {input: 4, gain_db: -2.5, noise_dbfs: -90, inverted: true}\n"
    )
    device = parsed(changed("  noise_dbfs: -70\n", boxes, text=SIMULATED)).device
    assert isinstance(device, SimulatedDevice)
    assert device.reamp == ReampBox(gain_db=6, one_leg_dead=True, highs_hz=8000, inverted=True)
    assert device.di_box == DiBox(input=4, gain_db=-2.5, noise_dbfs=-90, inverted=True)
    text = wiring_text(parsed(SIMULATED))
    assert "reamp:" not in text
    assert "di_box:" not in text


def test_a_simulated_room_with_no_fields_is_the_usual_one() -> None:
    text = "name: a\ndevice: {kind: simulated}\nsample_rate: 48000\nsend: {output: 3}\n"
    wiring = parsed(text + "returns: [{name: close, input: 2}]\n")
    assert wiring.device == SimulatedDevice()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_and_survives_being_written_again(path: Path) -> None:
    wiring = read_wiring(path)
    assert parsed(wiring_text(wiring)) == wiring


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_means_the_same_to_a_general_yaml_reader(path: Path) -> None:
    # PyYAML's safe_load, YAML 1.1: an example must not lean on what is special about our reader.
    plain = yaml.safe_load(path.read_text(encoding="utf-8"))
    wiring = read_wiring(path)
    assert plain["sample_rate"] == wiring.sample_rate
    assert plain["send"]["output"] == wiring.send_output
    assert [r["input"] for r in plain["returns"]] == [r.input for r in wiring.returns]
    assert plain.get("listen", {"outputs": []})["outputs"] == list(wiring.listen_outputs)


def test_the_examples_are_the_four_that_are_promised() -> None:
    stems = ["eight-in-eight-out", "jack", "simulated-room", "two-in-two-out"]
    assert [path.stem for path in EXAMPLES] == stems
    small, large = (read_wiring(p) for p in (EXAMPLES[3], EXAMPLES[0]))
    assert (small.inputs_needed, small.outputs_needed) == (1, 2)
    assert (large.inputs_needed, large.outputs_needed, len(large.returns)) == (8, 8, 4)


@pytest.mark.parametrize(
    "path", [p for p in EXAMPLES if p.stem != "simulated-room"], ids=lambda path: path.stem
)
def test_examples_for_real_amps_say_what_keeps_people_and_amps_safe(path: Path) -> None:
    words = path.read_text(encoding="utf-8").lower().replace("\n# ", " ")
    for word in (
        "rated load",
        "standby",
        "phantom",
        "ground lift",
        "never",
        "safety earth",
        "hearing",
    ):
        assert word in words


def test_accents_are_stored_composed_whatever_the_editor_wrote() -> None:
    text = changed("{name: room, input: 3}", "{name: cafe\u0301, input: 3}")
    assert parsed(text).returns[1].name == "caf\u00e9"


# ------------------------------------------------------------------ writing


names = st.text(
    st.characters(categories=["Lu", "Ll", "Nd"], max_codepoint=0x24F), min_size=1, max_size=12
)
titles = typed.titles(longest=40)
levels = st.floats(-60, -1).map(lambda x: round(x, 3))
inner = st.recursive(
    st.none() | st.booleans() | st.integers(-999, 999) | st.floats(-1e6, 1e6) | titles,
    lambda x: st.lists(x, max_size=3) | st.dictionaries(titles, x, max_size=3),
    max_leaves=6,
)
words = st.dictionaries(titles, inner, max_size=3)
rooms = st.builds(
    SimulatedDevice,
    pace=st.sampled_from(["clock", "free"]),
    inputs=st.just(32),
    outputs=st.just(32),
    seed=st.integers(0, 2**31 - 1),
    converter_frames=st.floats(0, 1e5),
    amp=st.builds(
        Amp,
        drive_db=st.floats(-60, 80),
        asymmetry=st.floats(0, 1),
        clean=st.booleans(),
        bell=st.none()
        | st.builds(Bell, hz=st.floats(20, 18_000), db=st.floats(-24, 24), q=st.floats(0.1, 20)),
    ),
    reamp=st.builds(
        ReampBox,
        gain_db=st.floats(-80, 40),
        one_leg_dead=st.booleans(),
        highs_hz=st.none() | st.floats(100, 20_000),
        inverted=st.booleans(),
    ),
    di_box=st.builds(
        DiBox,
        input=st.integers(1, 32),
        gain_db=st.floats(-80, 40),
        noise_dbfs=levels,
        inverted=st.booleans(),
    ),
    microphones=st.lists(
        st.builds(
            Microphone,
            input=st.integers(1, 32),
            distance_cm=st.floats(0, 3000),
            cabinet=titles,
            gain_db=st.floats(-120, 60),
            inverted=st.booleans(),
            near_field=st.booleans(),
        ),
        max_size=4,
        unique_by=lambda m: m.input,
    ).map(tuple),
    noise_dbfs=levels,
    hum=st.none() | st.builds(Hum, hz=st.floats(40, 70), level_dbfs=levels),
    crosstalk_db=st.none() | levels,
    chains=st.dictionaries(titles, st.lists(words, max_size=3).map(tuple), max_size=3),
    faults=st.lists(words, max_size=3).map(tuple),
)
devices = rooms | st.builds(PortAudioDevice, host=titles, name=titles)


@st.composite
def wirings(draw: st.DrawFn) -> Wiring:
    inputs = draw(st.permutations(range(1, 33)))
    outputs = draw(st.permutations(range(1, 33)))
    labels = draw(st.lists(names, min_size=1, max_size=5, unique_by=str.lower))
    labels = [label for label in labels if len(label.lower()) == len(label)]
    labels = labels or ["close"]
    start = draw(st.floats(-70, -6))
    return Wiring(
        name=draw(titles),
        device=draw(devices),
        sample_rate=draw(st.sampled_from(RATES)),
        block_frames=draw(st.none() | st.sampled_from([16, 64, 512, 8192])),
        send_output=outputs[0],
        returns=tuple(Return(name=n, input=i) for n, i in zip(labels, inputs, strict=False)),
        reference=draw(st.sampled_from(labels)),
        witness_input=draw(st.none() | st.just(inputs[30])),
        loop=draw(st.none() | st.just(Loop(output=outputs[1], input=inputs[31]))),
        listen_outputs=tuple(outputs[2 : 2 + draw(st.integers(0, 4))]),
        align_to=draw(st.sampled_from(["di", "live", "original"])),
        depth=draw(st.sampled_from([24, 32])),
        click=Click(start_dbfs=start, ceiling_dbfs=draw(st.floats(start, -6))),
        tail_s=draw(st.floats(0, 120)),
        room_celsius=draw(st.floats(-20, 50)),
    )


@given(wirings())
def test_every_wiring_is_written_so_that_it_reads_back(wiring: Wiring) -> None:
    assert parsed(wiring_text(wiring)) == wiring


@given(wirings())
def test_a_parsed_wiring_crosses_the_pipe_unchanged(wiring: Wiring) -> None:
    read = parsed(wiring_text(wiring))
    assert msgspec.json.decode(msgspec.json.encode(read), type=Wiring) == read
