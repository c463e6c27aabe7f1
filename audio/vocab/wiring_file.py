"""The wiring file: read whole, every mistake reported at once with its line and the way out.

The keys are those of `audio.vocab.wiring`, with ``send: {output: N}``, ``witness: {input: N}`` and
``listen: {outputs: [..]}`` written as mappings.
"""

from __future__ import annotations

import unicodedata
from pathlib import Path

from audio.vocab.air import COLDEST_CELSIUS, HOTTEST_CELSIUS, ROOM_CELSIUS
from audio.vocab.cue_file import check_cue, read_cue
from audio.vocab.form import Form
from audio.vocab.names import slug, twin_key
from audio.vocab.simulated_file import DEVICE_KEYS, simulated_device
from audio.vocab.strict_yaml import Node, Problems, load, read_text
from audio.vocab.wiring import (
    AlignTo,
    Click,
    Depth,
    Loop,
    PortAudioDevice,
    Return,
    SimulatedDevice,
    Wiring,
)

RATES = (44100, 48000, 88200, 96000, 176400, 192000)
"""Sample rates of audio interfaces, frames a second."""

FULL_SCALE_DBU = (-40, 40)
"""Range of what 0 dBFS may be at a socket, dBu."""

MOST_CHANNELS = 64
"""Channels the status block has room for."""

LONGEST_RETURN_NAME = 40

_KEYS = (
    *("name", "device", "sample_rate", "block_frames", "send", "returns", "reference", "witness"),
    *("loop", "listen", "cue", "align_to", "depth", "click", "tail_s", "room_celsius"),
)
_SEND_KEYS = ("output", "full_scale_dbu")
_BLOCKS = tuple(2**n for n in range(4, 14))
_ALIGN: tuple[AlignTo, ...] = ("di", "live", "original")
_DEPTHS: tuple[Depth, ...] = (24, 32)
_FROM_ONE = "; channels count from 1, as on the interface's front"
_RETURNS = "[{name: close, input: 2}]"
_DEVICE = "device: {kind: portaudio, host: …, name: …}"
_KINDS = ("portaudio", "simulated")
_FOUND_BY = ("kind", "host", "name")
_DEVICE_HINTS = {
    "index": "devices are found by host and name, as `secondpass devices` prints them",
    "api": "write host: …, as `secondpass devices` prints it",
}


def read_wiring(path: Path) -> Wiring:
    """Return the wiring of a file; raise `UseError` where it cannot be read or is wrong."""
    return parse_wiring(read_text(path), where=str(path))


def parse_wiring(text: str, *, where: str) -> Wiring:
    """Read a wiring; `UseError` with a line for each mistake in the file if there is any.

    Parameters
    ----------
    text
        The file's text.
    where
        The file's name for messages.

    Returns
    -------
    Wiring
        The wiring, with every default filled in; `reference` is the first return where left out.
    """
    problems = Problems(where)
    root = load(text, problems=problems)
    form = Form(
        root, problems=problems, what="", keys=_KEYS, example="name: …, device: … and so on"
    )
    wiring = _wiring(form)
    if form.filled:
        _check_inputs(form, wiring)
        _check_names(form, wiring)
        _check_outputs(form, wiring)
        check_cue(form, wiring)
        _check_device(form, wiring)
    problems.check()
    return wiring


def _wiring(form: Form) -> Wiring:
    """Return what the fields say, placeholders (channel 0, empty names) where a field is wrong."""
    returns = _returns(form)
    send = form.section("send", keys=_SEND_KEYS, example="{output: 3}")
    listen = form.section("listen", keys=("outputs",), example="{outputs: [1, 2]}")
    return Wiring(
        name=form.text("name", default="", required=True, longest=80, example="tracking room"),
        device=_device(form),
        sample_rate=form.choice("sample_rate", RATES, default=0, required=True),
        block_frames=form.choice("block_frames", _BLOCKS, default=None),
        send_output=_send(form, send),
        send_full_scale_dbu=full_scale_dbu(send) if send else None,
        returns=returns,
        reference=_reference(form, returns),
        witness_input=_witness(form),
        loop=_loop(form),
        listen_outputs=_listen(listen) if listen else (),
        cue=read_cue(form),
        align_to=form.choice("align_to", _ALIGN, default="di"),
        depth=form.choice("depth", _DEPTHS, default=24),
        click=_click(form),
        tail_s=form.number("tail_s", low=0, high=120, default=12.0),
        room_celsius=form.number(
            "room_celsius", low=COLDEST_CELSIUS, high=HOTTEST_CELSIUS, default=ROOM_CELSIUS
        ),
    )


# ------------------------------------------------------------------ fields


def _channel(form: Form, key: str) -> int:
    return form.whole(key, low=1, high=MOST_CHANNELS, default=0, required=True, note=_FROM_ONE)


def _witness(form: Form) -> int | None:
    section = form.section("witness", keys=("input",), example="{input: 3}")
    return (_channel(section, "input") or None) if section else None


def _send(form: Form, section: Form | None) -> int:
    form.get("send", required=True, way_out="write send: {output: 3}")
    return _channel(section, "output") if section else 0


def full_scale_dbu(form: Form) -> float | None:
    """Return what 0 dBFS is at a socket, dBu; None where the mapping does not say or it is wrong."""
    return form.number(
        "full_scale_dbu", low=FULL_SCALE_DBU[0], high=FULL_SCALE_DBU[1], default=None
    )


def _returns(form: Form) -> tuple[Return, ...]:
    nodes = form.items("returns", required=True, example=_RETURNS)
    if (node := form.get("returns")) is not None and node.value == ():
        form.fail("returns", f"no return is listed; write returns: {_RETURNS}")
    return tuple(_return(node, form.problems) for node in nodes)


def _return(node: Node, problems: Problems) -> Return:
    form = Form(
        node,
        problems=problems,
        what="return",
        keys=("name", "input", "amp"),
        example="{name: close, input: 2}",
    )
    name = form.text(
        "name", default="", required=True, longest=LONGEST_RETURN_NAME, example="close"
    )
    name = unicodedata.normalize("NFC", name)
    if bad := [c for c in name if not (c.isalnum() or c in "- ")]:
        text = f"return name {name!r} has {bad[0]!r} in it; use letters, digits, dashes, spaces"
        form.fail("name", f"{text}: it becomes part of file names")
    amp = form.text("amp", default="", longest=LONGEST_RETURN_NAME, example="left")
    return Return(name=name, input=_channel(form, "input"), amp=amp)


def _reference(form: Form, returns: tuple[Return, ...]) -> str:
    first = returns[0].name if returns else ""
    given = unicodedata.normalize("NFC", form.text("reference", default=first, example="close"))
    names = [r.name for r in returns if r.name]
    if names and given not in names:
        form.fail("reference", f"reference {given!r} is no return; write one of {', '.join(names)}")
    return given


def _loop(form: Form) -> Loop | None:
    section = form.section("loop", keys=("output", "input"), example="{output: 8, input: 8}")
    if section is None:
        return None
    return Loop(output=_channel(section, "output"), input=_channel(section, "input"))


def _listen(form: Form) -> tuple[int, ...]:
    outputs = form.wholes("outputs", low=1, high=MOST_CHANNELS, note=_FROM_ONE, example="[1, 2]")
    if len(set(outputs)) < len(outputs):
        form.fail("outputs", "listen names an output twice; name each once")
    return outputs


def _click(form: Form) -> Click:
    example = "{start_dbfs: -40, ceiling_dbfs: -12}"
    section = form.section("click", keys=("start_dbfs", "ceiling_dbfs"), example=example)
    if section is None:
        return Click()
    start = section.number("start_dbfs", low=-70, high=-6, default=Click().start_dbfs)
    ceiling = section.number("ceiling_dbfs", low=-70, high=-6, default=Click().ceiling_dbfs)
    if start > ceiling:
        text = f"the click would start at {start:g} dBFS, over its ceiling of {ceiling:g}"
        section.fail("start_dbfs", f"{text}; lower start_dbfs or raise ceiling_dbfs")
    return Click(start_dbfs=start, ceiling_dbfs=ceiling)


def _device(form: Form) -> PortAudioDevice | SimulatedDevice:
    nothing = PortAudioDevice(host="", name="")
    node = form.get("device", required=True, way_out=f"write {_DEVICE}")
    if node is None:
        return nothing
    kind = node.value.get("kind") if isinstance(node.value, dict) else None
    simulated = kind is not None and kind.value == "simulated"
    unknown = kind is not None and kind.value not in _KINDS
    keys = (*DEVICE_KEYS, "host", "name") if unknown else DEVICE_KEYS if simulated else _FOUND_BY
    hints = {} if simulated else _DEVICE_HINTS
    device = Form(
        node, problems=form.problems, what="device", keys=keys, example=_DEVICE, hints=hints
    )
    if not device.filled:
        return nothing
    device.choice("kind", _KINDS, default="", required=True)
    if unknown:  # which keys belong here depends on the kind
        return nothing
    if simulated:
        return simulated_device(device, most_channels=MOST_CHANNELS)
    host = device.text("host", default="", required=True, example="JACK Audio Connection Kit")
    return PortAudioDevice(host=host, name=device.text("name", default="", required=True))


# ------------------------------------------------------------------ fields against each other


def _check_inputs(form: Form, wiring: Wiring) -> None:
    """Refuse two uses of one input."""
    nodes = form.items("returns", example=_RETURNS)
    uses = [
        (_line(node, "input"), one.input, f"return {one.name!r}")
        for node, one in zip(nodes, wiring.returns, strict=True)
    ]
    uses.append((form.line_of("witness"), wiring.witness_input or 0, "the witness"))
    uses.append((form.line_of("loop"), wiring.loop.input if wiring.loop else 0, "the loop"))
    taken: dict[int, str] = {}
    for line, channel, use in uses:
        if channel in taken:
            text = f"input {channel} of {use} is taken by {taken[channel]}; use another input"
            form.problems.add(line, text)
        elif channel:
            taken[channel] = use


def _check_names(form: Form, wiring: Wiring) -> None:
    """Refuse two returns whose files would have one name on some disk."""
    seen: dict[str, str] = {}
    nodes = form.items("returns", example=_RETURNS)
    for node, one in zip(nodes, wiring.returns, strict=True):
        key = twin_key(slug(one.name))
        if one.name and key in seen:
            text = f"returns {seen[key]!r} and {one.name!r} would share their file names"
            form.problems.add(_line(node, "name"), f"{text}; rename one")
        seen.setdefault(key, one.name)


def _check_outputs(form: Form, wiring: Wiring) -> None:
    """Refuse what would put a cue on the amp, or the send on a cable that is not the amp's."""
    send, listen = wiring.send_output, wiring.listen_outputs
    loop = wiring.loop.output if wiring.loop else 0
    if send and send in listen:
        text = f"output {send} is the send, and a cue must never reach the amp"
        form.fail("listen", f"{text}; take output {send} out of listen, or move the send")
    if loop and loop == send:
        text = f"output {loop} is the send already; the loop needs an output of its own"
        form.fail("loop", f"{text}, or leave loop out")
    if loop and loop in listen:
        text = f"output {loop} is the loop's, and people would hear the test click there"
        form.fail("loop", f"{text}; take it out of listen, or move the loop")


def _check_device(form: Form, wiring: Wiring) -> None:
    """Refuse channels the simulated interface does not have."""
    if not isinstance(wiring.device, SimulatedDevice):
        return
    for side, needed, there in (
        ("inputs", wiring.inputs_needed, wiring.device.inputs),
        ("outputs", wiring.outputs_needed, wiring.device.outputs),
    ):
        if needed > there:
            text = f"the wiring uses {side[:-1]} {needed}, the simulated device ends at {there}"
            form.fail("device", f"{text}; write {side}: {needed} or use a lower channel")


def _line(node: Node, key: str) -> int:
    return node.key_lines.get(key, node.line)
