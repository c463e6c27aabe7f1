"""Results in words and columns."""

from __future__ import annotations

from audio.jobs.delays import Delay, ReturnDelay
from audio.jobs.sessions import Added
from audio.vocab.devices import DeviceList
from audio.vocab.findings import Finding
from audio.vocab.units import ms_from_frames
from audio.vocab.variant import Variant, VariantFile
from tui.present.plain import level, minutes

SHOWN_MS = 0.1
"""A chain that adds less than this is not worth a word: 3.4 cm of air."""


def variant_lines(variant: Variant) -> list[str]:
    """Return what a pass left: verdict first, then why, then where it was placed, then its files."""
    head = f"{variant.part} {variant.number:03d} {variant.chain.name}"
    state = "" if variant.state == "kept" else f", {variant.state}"
    lines = [f"{variant.verdict.upper():5} {head}{state}"]
    lines += [f"      {line}" for finding in variant.findings for line in finding_lines(finding)]
    lines.append(f"      {_placed(variant)}")
    width = max((len(one.return_name) for one in variant.files), default=0)
    return lines + [f"      {_file(one, width)}" for one in variant.files]


def finding_lines(finding: Finding) -> list[str]:
    """Return one finding: where, what, and what to do."""
    where = "" if finding.at_s is None else f"{minutes(finding.at_s)} "
    return [f"{where}{finding.text}", *([f"  {finding.advice}"] if finding.advice else [])]


def _placed(variant: Variant) -> str:
    d = variant.delay_frames
    if d is None:
        return "not placed: no click was heard and no earlier pass is known"
    sure = variant.plus_minus_frames
    around = "" if sure is None else f" ± {sure:.2f}"
    return (
        f"round trip {d:.2f}{around} frames ({ms_from_frames(d, rate=variant.sample_rate):.2f} ms),"
        f" {variant.shift_frames} removed, by {variant.delay_source}{_adds(variant)}"
    )


def _adds(variant: Variant) -> str:
    adds_ms = ms_from_frames(variant.chain_adds_frames or 0.0, rate=variant.sample_rate)
    return f"; this chain adds {adds_ms:.1f} ms" if adds_ms >= SHOWN_MS else ""


def _file(one: VariantFile, width: int) -> str:
    loud = "     -" if one.loudness_lufs is None else level(one.loudness_lufs)
    return f"{one.return_name:{width}}  peak {level(one.peak_dbfs)} dBFS  {loud} LUFS  {one.path}"


def delay_lines(delay: Delay) -> list[str]:
    """Return the round trip of each return, the reference first named."""
    width = max(len(one.name) for one in delay.returns)
    lines = [_return(one, width, delay.reference) for one in delay.returns]
    return lines + [line for finding in delay.findings for line in finding_lines(finding)]


def _return(one: ReturnDelay, width: int, reference: str) -> str:
    mark = "  reference" if one.name == reference else ""
    head = f"{one.name:{width}}  input {one.input}"
    if one.delay_frames is None or one.delay_ms is None:
        return f"{head}  no delay: {one.reason}{mark}"
    around = f" ± {one.plus_minus_frames:.2f}" if one.plus_minus_frames is not None else ""
    snr = f"  {one.snr_db:.0f} dB over the noise" if one.snr_db is not None else ""
    return (
        f"{head}  {one.delay_frames:9.2f}{around} frames  {one.delay_ms:7.2f} ms"
        f"{snr}  polarity {one.polarity}{mark}"
    )


def device_lines(devices: DeviceList) -> list[str]:
    """Return the devices as a wiring names them."""
    host_width = max((len(one.host) for one in devices.devices), default=0)
    name_width = max((len(one.name) for one in devices.devices), default=0)
    return [
        f"{one.host:{host_width}}  {one.name:{name_width}}  {one.inputs:3} in {one.outputs:3} out"
        f"  {one.default_rate:6.0f} Hz" + ("" if one.full_duplex else "  one way only: no pass")
        for one in devices.devices
    ]


def added_line(added: Added) -> str:
    """Return what a file became in the session."""
    facts = added.facts
    length = minutes(facts.frames / facts.sample_rate)
    what = f"part {added.part}"
    if added.original is not None:
        what += f", original {added.original}"
    elif added.revision > 1:
        what += f", revision {added.revision}"
    peak = level(facts.peak_dbfs).strip()
    return f"{what}: {length}, {facts.sample_rate} Hz, {facts.encoding}, peak {peak} dBFS"
