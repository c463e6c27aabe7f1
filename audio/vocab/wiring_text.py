"""Writing a wiring as the file a person would have written, comments included."""

from __future__ import annotations

import msgspec

from audio.vocab.cue_file import cue_lines
from audio.vocab.wiring import (
    DiBox,
    PortAudioDevice,
    ReampBox,
    Return,
    SimulatedDevice,
    Wiring,
)
from audio.vocab.yaml_text import flow, scalar

_HEAD = """\
# Wiring: which output feeds the reamp box, which inputs carry microphones.
# Channels count from 1, as on the front of the interface.
#
# Keep a speaker or a rated load on a valve amp. Standby while replugging. Phantom power off where
# it could meet the patch. Against hum use the ground lift of the DI or reamp box, never the mains
# safety earth. Loud amps harm hearing.
"""


def wiring_text(wiring: Wiring) -> str:
    """Return a wiring as a commented file that `parse_wiring` reads back to the same value.

    Parameters
    ----------
    wiring
        A wiring that `parse_wiring` would accept.

    Returns
    -------
    str
        The file's text, ending in a newline.
    """
    lines = [
        _HEAD,
        f"name: {scalar(wiring.name)}",
        *_device(wiring.device),
        f"sample_rate: {wiring.sample_rate}",
        *_block(wiring.block_frames),
        f"send: {flow(_send(wiring))}            # to the reamp box",
        "returns:",
        *(f"  - {flow(_return(r))}" for r in wiring.returns),
        f"reference: {scalar(wiring.reference)}          # the return that places a pass in time",
        *_optional(wiring),
        f"align_to: {wiring.align_to}",
        f"depth: {wiring.depth}",
        "click: "
        + flow({"start_dbfs": wiring.click.start_dbfs, "ceiling_dbfs": wiring.click.ceiling_dbfs}),
        f"tail_s: {scalar(wiring.tail_s)}             # longest tail",
        f"room_celsius: {scalar(wiring.room_celsius)}       # the air: turns delays into distances",
    ]
    return "\n".join(lines) + "\n"


def _send(wiring: Wiring) -> dict[str, object]:
    known = wiring.send_full_scale_dbu is not None
    more = {"full_scale_dbu": wiring.send_full_scale_dbu} if known else {}
    return {"output": wiring.send_output, **more}


def _block(frames: int | None) -> list[str]:
    note = "on JACK the server's period rules"
    return [f"# block_frames: 512      # {note}" if frames is None else f"block_frames: {frames}"]


def _optional(wiring: Wiring) -> list[str]:
    lines = []
    if wiring.witness_input is not None:
        lines.append(
            f"witness: {flow({'input': wiring.witness_input})}      # records the send itself"
        )
    if wiring.loop is not None:
        cable = {"output": wiring.loop.output, "input": wiring.loop.input}
        lines.append(f"loop: {flow(cable)}      # a cable that stays")
    if wiring.listen_outputs:
        lines.append(f"listen: {flow({'outputs': wiring.listen_outputs})}      # never the send")
    return lines + cue_lines(wiring)


def _device(device: PortAudioDevice | SimulatedDevice) -> list[str]:
    if isinstance(device, PortAudioDevice):
        found_by = {"kind": "portaudio", "host": device.host, "name": device.name}
        return ["# Host and name as `secondpass devices` prints them.", f"device: {flow(found_by)}"]
    lines = [
        *("device:", "  kind: simulated"),
        f"  pace: {device.pace}           # clock: real time; free: as fast as the machine can",
        f"  inputs: {device.inputs}",
        f"  outputs: {device.outputs}",
        f"  seed: {device.seed}",
        f"  converter_frames: {scalar(device.converter_frames)}",
        "  amp: " + flow(_written(device.amp)),
        *_boxes(device),
        *_microphones(device),
        f"  noise_dbfs: {scalar(device.noise_dbfs)}",
    ]
    return lines + _room_extras(device)


def _microphones(device: SimulatedDevice) -> list[str]:
    if not device.microphones:
        return ["  microphones: []"]
    rows = [_written(one) for one in device.microphones]
    for row in rows:
        if not row["near_field"]:
            del row["near_field"]
    return ["  microphones:", *(f"    - {flow(row)}" for row in rows)]


def _boxes(device: SimulatedDevice) -> list[str]:
    boxes = (("reamp", device.reamp, ReampBox()), ("di_box", device.di_box, DiBox()))
    return [f"  {key}: {flow(_written(box))}" for key, box, usual in boxes if box != usual]


def _written(part: object) -> dict[str, object]:
    """Return the fields of a part of the room, without those that mean none of something."""
    fields: dict[str, object] = msgspec.to_builtins(part)
    return {key: value for key, value in fields.items() if value is not None}


def _room_extras(device: SimulatedDevice) -> list[str]:
    lines = []
    if device.hum is not None:
        lines.append("  hum: " + flow({"hz": device.hum.hz, "level_dbfs": device.hum.level_dbfs}))
    if device.crosstalk_db is not None:
        lines.append(f"  crosstalk_db: {scalar(device.crosstalk_db)}")
    if device.chains:
        lines.append("  chains:               # pedals in order; a name not listed has none")
        lines += [f"    {scalar(name)}: {flow(row)}" for name, row in device.chains.items()]
    if device.faults:
        lines.append("  faults:")
        lines += [f"    - {flow(fault)}" for fault in device.faults]
    return lines


def _return(one: Return) -> dict[str, object]:
    fields: dict[str, object] = {"name": one.name, "input": one.input}
    return fields | ({"amp": one.amp} if one.amp else {})
