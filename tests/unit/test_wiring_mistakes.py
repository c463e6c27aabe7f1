"""Every mistake in a wiring file is named with its line and the way out, all of them at once."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wiring_cases import SIMULATED, WHOLE, changed, parsed

from audio.vocab.errors import UseError
from audio.vocab.wiring_file import read_wiring

FIVE_MORE = "".join(f"    - {{input: {n}}}\n" for n in (2, 3, 4, 5, 6))


def mistakes(text: str) -> list[str]:
    with pytest.raises(UseError) as caught:
        parsed(text)
    return str(caught.value).splitlines()


@pytest.mark.parametrize(
    ("line", "to", "number", "says"),
    [
        ("name: tracking room", "name:", 1, "name is missing; write name: tracking room"),
        ("name: tracking room", "name: 12", 1, "put it in quotes"),
        ("name: tracking room", "name: ' '", 1, "empty"),
        ("name: tracking room", 'name: "a\\tb"', 1, "hidden character"),
        ("name: tracking room", "name: " + "x" * 81, 1, "longer than 80"),
        ("sample_rate: 48000", "sample_rate: 48", 3, "did you mean 48000?"),
        ("sample_rate: 48000", "sample_rate: 44.1", 3, "did you mean 44100?"),
        ("sample_rate: 48000", "sample_rate: 48 kHz", 3, "did you mean 48000?"),
        ("sample_rate: 48000", "sample_rate: 48_000", 3, "did you mean 48000?"),
        ("sample_rate: 48000", "sample_rate: '48,000'", 3, "did you mean 48000?"),
        ("sample_rate: 48000", "sample_rate: 32000", 3, "one of 44100, 48000"),
        ("sample_rate: 48000", "sample_rate: 48000.0", 3, "did you mean 48000?"),
        ("sample_rate: 48000", "sample_rate: true", 3, "sample_rate is true; write one of"),
        ("sample_rate: 48000\n", "", 1, "sample_rate is missing"),
        ("sample_rate:", "samplerate:", 3, "did you mean sample_rate?"),
        ("block_frames: 512", "block_frames: 500", 4, "did you mean 512?"),
        ("block_frames: 512", "block_frames: 8", 4, "one of 16, 32"),
        ("block_frames: 512", "block_frames: 16384", 4, "one of 16, 32"),
        ("send: {output: 3}", "send: 3", 5, "write send: {output: 3}"),
        ("send: {output: 3}", "send: {output: 0}", 5, "channels count from 1"),
        ("send: {output: 3}", "send: {output: -1}", 5, "channels count from 1"),
        ("send: {output: 3}", "send: {output: 65}", 5, "from 1 to 64"),
        ("send: {output: 3}", "send: {output: 3.5}", 5, "whole number"),
        ("send: {output: 3}", "send: {output: '3'}", 5, "did you mean 3?"),
        ("send: {output: 3}", "send: {output: true}", 5, "output is true; write a whole number"),
        ("send: {output: 3}", "send: {ouput: 3}", 5, "did you mean output?"),
        ("send: {output: 3}", "send: {input: 3}", 5, "unknown key 'send input'"),
        ("send: {output: 3}", "send: {}", 5, "send output is missing"),
        ("send: {output: 3}", "send: [3]", 5, "send is a list"),
        ("send: {output: 3}\n", "", 1, "send is missing; write send: {output: 3}"),
        ("{name: room, input: 3}", "{name: room, input: 2}", 8, "is taken by return 'close'"),
        ("{name: room, input: 3}", "{name: close, input: 3}", 8, "would share their file names"),
        ("{name: room, input: 3}", "{name: Close, input: 3}", 8, "would share their file names"),
        ("{name: room, input: 3}", "{name: a/b, input: 3}", 8, "has '/' in it"),
        ("{name: room, input: 3}", "{name: .., input: 3}", 8, "has '.' in it"),
        ("{name: room, input: 3}", "{name: a_b, input: 3}", 8, "has '_' in it"),
        ("{name: room, input: 3}", '{name: "a\\nb", input: 3}', 8, "hidden character"),
        ("{name: room, input: 3}", '{name: "a\u202eb", input: 3}', 8, "hidden character"),
        ("{name: room, input: 3}", "{name: " + "x" * 41 + ", input: 3}", 8, "longer than 40"),
        ("{name: room, input: 3}", "{name: room}", 8, "return input is missing"),
        ("{name: room, input: 3}", "{input: 3}", 8, "return name is missing"),
        ("{name: room, input: 3}", "room", 8, "write {name: close, input: 2}"),
        ("{name: room, input: 3}", "{name: room, input: 3, gain: 2}", 8, "unknown key 'return gain'"),
        ("reference: close", "reference: clos", 9, "is no return; write one of close, room"),
        ("reference: close", "reference: Close", 9, "is no return"),
        ("witness: {input: 5}", "witness: {input: 2}", 10, "of the witness is taken by return 'close'"),
        ("witness: {input: 5}", "witness: {input: 8}", 11, "input 8 of the loop is taken by the witness"),
        ("witness: {input: 5}", "witness: 5", 10, "write witness: {input: 3}"),
        ("loop: {output: 8, input: 8}", "loop: {output: 8, input: 3}", 11, "is taken by return 'room'"),
        ("loop: {output: 8, input: 8}", "loop: {output: 3, input: 8}", 11, "output 3 is the send already"),
        ("loop: {output: 8, input: 8}", "loop: {output: 2, input: 8}", 11, "people would hear the"),
        ("loop: {output: 8, input: 8}", "loop: {output: 8}", 11, "loop input is missing"),
        ("listen: {outputs: [1, 2]}", "listen: {outputs: [1, 3]}", 12, "a cue must never reach the amp"),
        ("listen: {outputs: [1, 2]}", "listen: {outputs: 1}", 12, "write outputs: [1, 2]"),
        ("listen: {outputs: [1, 2]}", "listen: [1, 2]", 12, "write listen: {outputs: [1, 2]}"),
        ("listen: {outputs: [1, 2]}", "listen: {outputs: [1, 1]}", 12, "twice"),
        ("listen: {outputs: [1, 2]}", "listen: {outputs: [0]}", 12, "channels count from 1"),
        ("listen: {outputs: [1, 2]}", "listen: {outputs: [true]}", 12, "listen outputs is true"),
        ("listen: {outputs: [1, 2]}", "listen: {}", 12, "listen outputs is missing"),
        ("align_to: di", "align_to: DI", 13, "did you mean di?"),
        ("align_to: di", "align_to: lvie", 13, "did you mean live?"),
        ("depth: 24", "depth: 16", 14, "one of 24, 32"),
        ("depth: 24", "depth: 24 bit", 14, "did you mean 24?"),
        ("start_dbfs: -40", "start_dbfs: 40", 15, "did you mean -40?"),
        ("start_dbfs: -40", "start_dbfs: -71", 15, "from -70 to -6"),
        ("start_dbfs: -40", "start_dbfs: -11", 15, "over its ceiling of -12"),
        ("start_dbfs: -40", "start_dbfs: -40 dB", 15, "did you mean -40?"),
        ("start_dbfs: -40", "start_dbfs: \u221240", 15, "did you mean -40?"),
        ("ceiling_dbfs: -12", "ceiling_dbfs: -5", 15, "from -70 to -6"),
        ("ceiling_dbfs: -12", "ceiling_dbfs: .nan", 15, "ceiling_dbfs is '.nan'"),
        ("tail_s: 12", "tail_s: -1", 16, "did you mean 1?"),
        ("tail_s: 12", "tail_s: 121", 16, "from 0 to 120"),
        ("tail_s: 12", "tail_s: 12 s", 16, "did you mean 12?"),
        ("tail_s: 12", "tail: 12", 16, "did you mean tail_s?"),
        ("room_celsius: 23.5", "room_celsius: 74", 17, "from -20 to 50"),
        ("room_celsius: 23.5", "room_celsius: 23,5", 17, "did you mean 23.5?"),
        ("room_celsius: 23.5", "room_temperature: 23.5", 17, "room_temperature"),
        ("kind: portaudio", "kind: portaudoi", 2, "did you mean portaudio?"),
        ("kind: portaudio, ", "", 2, "device kind is missing"),
        ("host: JACK Audio Connection Kit, ", "", 2, "device host is missing"),
        ("name: reamp-room", "index: 3", 2, "devices are found by host and name"),
        ("name: reamp-room", "name: reamp-room, api: JACK", 2, "write host"),
        ("name: reamp-room", "name: 3", 2, "put it in quotes"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_line_and_the_way_out(
    line: str, to: str, number: int, says: str
) -> None:
    said = mistakes(changed(line, to))
    assert any(m.startswith(f"w.yaml, line {number}: ") and says in m for m in said), said


@pytest.mark.parametrize(
    ("line", "to", "number", "says"),
    [
        ("pace: free", "pace: fast", 4, "one of clock, free"),
        ("inputs: 6", "inputs: 0", 5, "from 1 to 64"),
        ("outputs: 4", "outputs: 1", 2, "uses output 2, the simulated device ends at 1"),
        ("inputs: 6", "inputs: 1", 12, "from 1 to 1"),
        ("seed: 7", "seed: -7", 7, "whole number"),
        ("converter_frames: 100.25", "converter_frames: -1", 8, "did you mean 1?"),
        ("drive_db: 30", "drive: 30", 9, "did you mean drive_db?"),
        ("clean: false", "clean: no", 9, "did you mean false?"),
        ("clean: false", "clean: 1", 9, "true or false"),
        ("clean: false", "bell: {hz: 3, db: 2}", 9, "from 20 to 18000"),
        ("clean: false", "bell: {gain_db: 2}", 9, "unknown key 'device amp bell gain_db'"),
        ("clean: false", "bell: 2", 9, "write bell: {hz: 3000, db: 2}"),
        ("  seed: 7", "  reamp: {gain: 6}", 7, "did you mean gain_db?"),
        ("  seed: 7", "  reamp: {highs_hz: 30}", 7, "from 100 to 20000"),
        ("  seed: 7", "  reamp: {one_leg_dead: yes}", 7, "did you mean true?"),
        ("  seed: 7", "  di_box: {input: 7}", 7, "from 1 to 6"),
        ("  seed: 7", "  di_box: {noise_dbfs: 90}", 7, "did you mean -90?"),
        ("  seed: 7", "  di_box: 4", 7, "write di_box: {input: 1}"),
        ("inverted: true", "inverted: yes", 11, "did you mean true?"),
        ("{input: 2}", "{input: 2, near_field: no}", 12, "did you mean false?"),
        ("asymmetry: 0.1", "asymmetry: 2", 9, "from 0 to 1"),
        ("{input: 2}", "{input: 1}", 10, "two microphones share an input"),
        ("{input: 2}", "{input: 7}", 12, "from 1 to 6"),
        ("{input: 2}", "2", 12, "write {input: 2, distance_cm: 5}"),
        ("    - {input: 2}\n", FIVE_MORE, 10, "4 microphones at most"),
        ("noise_dbfs: -70", "noise_dbfs: 70", 13, "did you mean -70?"),
        ("hz: 60", "hz: 600", 14, "from 40 to 70"),
        ("crosstalk_db: -60", "crosstalk_db: 60", 15, "did you mean -60?"),
        ("    nothing in it: []", "    nothing in it: 3", 18, "not a list"),
        ("    nothing in it: []", "    nothing in it: [3]", 18, "no mapping"),
        ("{fault: dead cable, at_s: 2.5, really: true, note: null}", "dead cable", 20, "no mapping"),
        ("  seed: 7", "  latency: 7", 7, "unknown key 'device latency'"),
    ],
)  # fmt: skip
def test_a_mistake_in_the_simulated_room_is_named_with_its_line(
    line: str, to: str, number: int, says: str
) -> None:
    said = mistakes(changed(line, to, text=SIMULATED))
    assert any(m.startswith(f"w.yaml, line {number}: ") and says in m for m in said), said


def test_all_mistakes_come_at_once_one_line_each_in_order() -> None:
    text = WHOLE.replace("48000", "48").replace("output: 3", "output: 0").replace("24", "16")
    text = text.replace("input: 5", "input: 2").replace("tail_s", "tail")
    said = mistakes(text)
    assert [m.split(":")[0] for m in said] == [f"w.yaml, line {n}" for n in (3, 5, 10, 14, 16)]


@pytest.mark.parametrize(
    "text", ["", "# nothing yet\n", "just words\n", "[1, 2]\n", "null\n", "3\n"]
)
def test_a_file_that_is_no_wiring_is_one_sentence(text: str) -> None:
    said = mistakes(text)
    assert len(said) == 1
    assert "name: …, device: …" in said[0]


@pytest.mark.parametrize("key", ["name", "device", "sample_rate", "send", "returns"])
@given(
    value=st.sampled_from(["null", "[]", "{}", "[[]]", "[null]", "{a: {b: c}}", "x", "1", "true"])
)
def test_any_kind_of_value_in_a_needed_place_is_refused_or_read(key: str, value: str) -> None:
    lines = [line for line in WHOLE.splitlines() if not line.startswith((f"{key}:", "  -"))]
    lines += [] if key == "returns" else ["returns: [{name: close, input: 2}]"]
    lines = [line for line in lines if line != "returns:"] + [f"{key}: {value}"]
    text = "\n".join(lines)
    if (key, value) == ("name", "x"):
        assert parsed(text).name == "x"
    else:
        assert all(m.startswith("w.yaml, line ") for m in mistakes(text))


def test_reading_a_missing_file_says_so() -> None:
    with pytest.raises(UseError, match="there is no such file"):
        read_wiring(Path("nowhere/at-all.yaml"))


def test_a_device_too_small_for_the_usual_microphone_is_refused() -> None:
    text = "name: a\ndevice: {kind: simulated, inputs: 1}\nsample_rate: 48000\nsend: {output: 3}\n"
    said = mistakes(text + "returns: [{name: close, input: 1}]\n")
    assert len(said) == 1
    assert "line 2: the usual microphone is on input 2" in said[0]
