"""The simulated room's part of a wiring file: an interface and a room with known truth.

Chains and faults pass through as they are written: their words belong to the room alone.
"""

from __future__ import annotations

from typing import Any, Literal

from audio.vocab.form import Form
from audio.vocab.strict_yaml import Node
from audio.vocab.wiring import Amp, Bell, DiBox, Hum, Microphone, ReampBox, SimulatedDevice

DEVICE_KEYS = (
    *("kind", "pace", "inputs", "outputs", "seed", "converter_frames", "amp", "second_amp"),
    *("reamp", "di_box", "microphones", "noise_dbfs", "hum", "crosstalk_db", "chains", "faults"),
)
MOST_MICROPHONES = 4

_MICROPHONE_KEYS = (
    *("input", "distance_cm", "cabinet", "gain_db", "inverted", "near_field"),
    "second_amp",
)
_PACES: tuple[Literal["clock", "free"], ...] = ("clock", "free")
_USUAL = SimulatedDevice()


def simulated_device(form: Form, *, most_channels: int) -> SimulatedDevice:
    """Return the device a mapping describes; what is wrong is in the form's problems.

    Parameters
    ----------
    form
        The mapping, opened with `DEVICE_KEYS`.
    most_channels
        Most inputs, and most outputs, the interface may have.

    Returns
    -------
    SimulatedDevice
        The device, with defaults where a field is missing or wrong.
    """
    return SimulatedDevice(
        pace=form.choice("pace", _PACES, default=_USUAL.pace),
        inputs=form.whole("inputs", low=1, high=most_channels, default=_USUAL.inputs),
        outputs=form.whole("outputs", low=1, high=most_channels, default=_USUAL.outputs),
        seed=form.whole("seed", low=0, high=2**31 - 1, default=_USUAL.seed),
        converter_frames=form.number(
            "converter_frames", low=0, high=100_000, default=_USUAL.converter_frames
        ),
        amp=_amp(form, "amp") or Amp(),
        second_amp=_amp(form, "second_amp"),
        reamp=_reamp(form),
        di_box=_di_box(form),
        microphones=_microphones(form),
        noise_dbfs=form.number("noise_dbfs", low=-200, high=0, default=_USUAL.noise_dbfs),
        hum=_hum(form),
        crosstalk_db=form.number("crosstalk_db", low=-200, high=0, default=None),
        chains=_chains(form),
        faults=_dicts(form, "faults", form.items("faults", example="[{fault: …, at_s: 2}]")),
    )


def _amp(form: Form, key: str) -> Amp | None:
    keys = ("drive_db", "asymmetry", "clean", "bell")
    section = form.section(key, keys=keys, example="{drive_db: 12}")
    if section is None:
        return None
    return Amp(
        drive_db=section.number("drive_db", low=-60, high=80, default=Amp().drive_db),
        asymmetry=section.number("asymmetry", low=0, high=1, default=Amp().asymmetry),
        clean=section.flag("clean", default=False),
        bell=_bell(section),
    )


def _bell(form: Form) -> Bell | None:
    section = form.section("bell", keys=("hz", "db", "q"), example="{hz: 3000, db: 2}")
    if section is None:
        return None
    usual = Bell()
    return Bell(
        hz=section.number("hz", low=20, high=18_000, default=usual.hz),
        db=section.number("db", low=-24, high=24, default=usual.db),
        q=section.number("q", low=0.1, high=20, default=usual.q),
    )


def _reamp(form: Form) -> ReampBox:
    keys = ("gain_db", "one_leg_dead", "highs_hz", "inverted")
    section = form.section("reamp", keys=keys, example="{gain_db: 0}")
    if section is None:
        return ReampBox()
    return ReampBox(
        gain_db=section.number("gain_db", low=-80, high=40, default=ReampBox().gain_db),
        one_leg_dead=section.flag("one_leg_dead", default=False),
        highs_hz=section.number("highs_hz", low=100, high=20_000, default=None),
        inverted=section.flag("inverted", default=False),
    )


def _di_box(form: Form) -> DiBox:
    keys = ("input", "gain_db", "noise_dbfs", "inverted")
    section = form.section("di_box", keys=keys, example="{input: 1}")
    if section is None:
        return DiBox()
    usual, there = DiBox(), form.whole("inputs", low=1, high=2**15, default=_USUAL.inputs)
    return DiBox(
        input=section.whole("input", low=1, high=there, default=usual.input),
        gain_db=section.number("gain_db", low=-80, high=40, default=usual.gain_db),
        noise_dbfs=section.number("noise_dbfs", low=-200, high=0, default=usual.noise_dbfs),
        inverted=section.flag("inverted", default=False),
    )


def _hum(form: Form) -> Hum | None:
    section = form.section("hum", keys=("hz", "level_dbfs"), example="{hz: 50, level_dbfs: -60}")
    if section is None:
        return None
    return Hum(
        hz=section.number("hz", low=40, high=70, default=Hum().hz),
        level_dbfs=section.number("level_dbfs", low=-200, high=0, default=Hum().level_dbfs),
    )


def _microphones(form: Form) -> tuple[Microphone, ...]:
    there = form.whole("inputs", low=1, high=2**15, default=_USUAL.inputs)
    if not form.has("microphones"):
        if there < _USUAL.microphones[0].input:
            text = "the usual microphone is on input 2, which this device does not have"
            form.fail("inputs", f"{text}; list the microphones, or write inputs: 2")
        return _USUAL.microphones
    nodes = form.items("microphones", example="[{input: 2, distance_cm: 5}]")
    microphones = tuple(_microphone(form, node, inputs=there) for node in nodes)
    if len(microphones) > MOST_MICROPHONES:
        form.fail(
            "microphones", f"the room has {MOST_MICROPHONES} microphones at most; leave some out"
        )
    inputs = [m.input for m in microphones if m.input]
    if len(set(inputs)) < len(inputs):
        form.fail("microphones", "two microphones share an input; give each its own")
    return microphones


def _microphone(form: Form, node: Node, *, inputs: int) -> Microphone:
    example = "{input: 2, distance_cm: 5}"
    one = Form(
        node, problems=form.problems, what="microphone", keys=_MICROPHONE_KEYS, example=example
    )
    usual = Microphone(input=0)
    return Microphone(
        input=one.whole("input", low=1, high=inputs, default=0, required=True),
        distance_cm=one.number("distance_cm", low=0, high=3000, default=usual.distance_cm),
        cabinet=one.text("cabinet", default=usual.cabinet, longest=80, example="closed back"),
        gain_db=one.number("gain_db", low=-120, high=60, default=usual.gain_db),
        inverted=one.flag("inverted", default=False),
        near_field=one.flag("near_field", default=False),
        second_amp=one.flag("second_amp", default=False),
    )


def _chains(form: Form) -> dict[str, tuple[dict[str, Any], ...]]:
    node = form.get("chains")
    if node is None:
        return {}
    example = "chains: {fuzz: [{pedal: drive, gain_db: 30}]}"
    if not isinstance(node.value, dict):
        form.fail("chains", f"chains is no mapping; write {example}")
        return {}
    names = tuple(node.value)
    chains = Form(node, problems=form.problems, what="chain", keys=names, example=example)
    pedals = "[{pedal: drive, gain_db: 30}]"
    return {name: _dicts(chains, name, chains.items(name, example=pedals)) for name in names}


def _dicts(form: Form, key: str, nodes: tuple[Node, ...]) -> tuple[dict[str, Any], ...]:
    for node in nodes:
        if not isinstance(node.value, dict):
            form.problems.add(node.line, f"an item of {key} is no mapping; write {{word: value}}")
    return tuple(node.plain() for node in nodes if isinstance(node.value, dict))
