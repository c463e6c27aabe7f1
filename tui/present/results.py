"""Results in words and columns, made to be read at 80 columns."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

from audio.jobs.sessions import Added, TempoAdded
from audio.plan.evidence_proofs import proofs
from audio.plan.evidence_words import adds, distance
from audio.vocab.delay import Delay, ReturnDelay
from audio.vocab.devices import DeviceList
from audio.vocab.findings import Finding
from audio.vocab.results import AudioFacts
from audio.vocab.units import clock_time, ms_from_frames
from audio.vocab.variant import Variant, VariantFile
from tui.present.check_words import change_lines
from tui.present.plain import level
from tui.present.tempo import bpm_words
from tui.present.terminal import clean, tell, width, wrapped

INDENT = 6
"""Columns of a verdict and the space behind it."""


def tell_variant(variant: Variant) -> None:
    """Print what a pass left: verdict first, then why, where it was placed, by what proof, its files."""
    lines = [_head(variant)]
    for finding in variant.findings:
        lines += _finding(finding, indent=INDENT)
    if variant.delay_frames is not None:  # else a finding says why there is none
        lines += _wrapped(_placed(variant, variant.delay_frames), indent=INDENT)
    lines += _wrapped(_proof(variant), indent=INDENT)
    names = max((len(clean(one.return_name)) for one in variant.files), default=0)
    lines += [" " * INDENT + _file(one, names, variant.sample_rate) for one in variant.files]
    lines += [" " * INDENT + folder for folder in _folders(variant.files)]
    _tell(lines)


def _head(variant: Variant) -> str:
    edit = f", revision {variant.revision}" if variant.revision > 1 else ""
    state = "" if variant.state == "kept" else f", {variant.state}"
    name = f"{variant.part} {variant.number:03d}"
    return f"{variant.verdict.upper():5} {name} through {variant.chain.name}{edit}{state}"


def _finding(finding: Finding, *, indent: int) -> list[str]:
    """Return one finding: where and what, and below it what to do."""
    where = "" if finding.at_s is None else f"{clock_time(finding.at_s)} "
    return _wrapped(f"{where}{finding.text}", indent=indent) + _wrapped(
        finding.advice, indent=indent + 2
    )


def _placed(variant: Variant, d: float) -> str:
    sure, rate = variant.plus_minus_frames, variant.sample_rate
    around = "" if sure is None else f" ± {sure:.2f}"
    around_ms = "" if sure is None else f" ± {ms_from_frames(sure, rate=rate):.2f}"
    return (
        f"round trip {d:.2f}{around} frames ({ms_from_frames(d, rate=rate):.2f}{around_ms} ms),"
        f" {variant.shift_frames} removed by {variant.delay_source}{adds(variant)}"
    )


def _proof(variant: Variant) -> str:
    used = proofs(variant)[0]
    return f"proof: {used.proof}, {used.words}"


def _file(one: VariantFile, names: int, rate: int) -> str:
    loud = "     −" if one.loudness_lufs is None else level(one.loudness_lufs)
    far = distance(one, rate)
    turned = "inverted" if one.polarity == "inverted" else ""
    stands = ", ".join(filter(None, (far, turned)))
    head = f"{clean(one.return_name):{names}}  peak {level(one.peak_dbfs)} dBFS  {loud} LUFS"
    return f"{head}  {stands}" if stands else head


def _folders(files: Iterable[VariantFile]) -> list[str]:
    return sorted({f"{PurePosixPath(one.path).parent}/" for one in files})


def tell_delay(delay: Delay) -> None:
    """Print the round trip of each return, and what is to be said of it."""
    names = max(len("return"), *(len(clean(one.name)) for one in delay.returns))
    lines = [f"{'return':{names}}  input            frames        ms  over noise  polarity"]
    for one in delay.returns:
        lines += _return(one, names, delay.reference)
    for finding in delay.findings:
        lines += _finding(finding, indent=0)
    _tell(lines)


def _return(one: ReturnDelay, names: int, reference: str) -> list[str]:
    mark = ", reference" if one.name == reference else ""
    head = f"{clean(one.name):{names}}  {one.input:5}"
    if one.delay_frames is None or one.delay_ms is None:
        why = "" if one.reason == "nothing" else f": {one.reason}"
        return [f"{head}  not heard{why}{mark}"]
    sure = "" if one.plus_minus_frames is None else f"± {one.plus_minus_frames:.2f}"
    snr = "−" if one.snr_db is None else f"{one.snr_db:.0f} dB"
    frames = f"{one.delay_frames:9.2f} {sure:6}"
    return [f"{head}  {frames}  {one.delay_ms:8.2f}  {snr:>10}  {one.polarity}{mark}"]


def tell_devices(devices: DeviceList) -> None:
    """Print the devices as a wiring names them."""
    hosts = max((len(clean(one.host)) for one in devices.devices), default=0)
    names = max((len(clean(one.name)) for one in devices.devices), default=0)
    _tell(
        f"{clean(one.host):{hosts}}  {clean(one.name):{names}}  {one.inputs:3} in {one.outputs:3} out"
        f"  {one.default_rate:6.0f} Hz" + ("" if one.full_duplex else "  one way only: no pass")
        for one in devices.devices
    )


def tell_added(added: Sequence[Added]) -> None:
    """Print what files became in the session."""
    for one in added:
        if one.facts is not None:
            tell(_added(one, one.facts))
            _tell_change(one, one.facts.sample_rate)
        tell_tempo(one.tempo)


def _tell_change(one: Added, rate: int) -> None:
    for line in change_lines(one.change, rate) if one.change is not None else ():
        _tell(_wrapped(line, indent=INDENT))


def tell_tempo(tempo: TempoAdded | None) -> None:
    """Print what a tempo file became; nothing where there is none."""
    if tempo is None:
        return
    slow, fast = bpm_words(tempo.slowest_bpm), bpm_words(tempo.fastest_bpm)
    many = "one tempo" if tempo.tempos == 1 else f"{tempo.tempos} tempi"
    told = f"tempo {tempo.file}: {many}, {slow if slow == fast else f'{slow} to {fast}'} bpm"
    told += f", {', '.join(dict.fromkeys(tempo.metres))}"
    if tempo.instead_of_bpm is not None:
        told += f"; used from now on instead of {tempo.instead_of_bpm:g} bpm"
    _tell(_wrapped(told, indent=0))


def _added(added: Added, facts: AudioFacts) -> str:
    length = clock_time(facts.frames / facts.sample_rate)
    depth = facts.encoding.removeprefix("PCM_") + "-bit" if "PCM_" in facts.encoding else "float"
    return f"{_what(added)}: {length}, {facts.sample_rate} Hz, {depth}, {_how_much(added, facts)}"


def _what(added: Added) -> str:
    if added.part is None:
        return f"backing track of {added.song}"
    what = f"part {added.part}"
    if added.original is not None:
        return f"{what}, original {added.original}"
    if added.new_song:
        return f"{what}, first of the new song {added.song}"
    return f"{what}, revision {added.revision}" if (added.revision or 1) > 1 else what


def _how_much(added: Added, facts: AudioFacts) -> str:
    """Return the peak, which was read of one channel; of a backing track, how many there are."""
    channels = facts.channels
    if added.part is None:
        return "mono" if channels == 1 else "stereo" if channels == 2 else f"{channels} channels"
    return f"peak {level(facts.peak_dbfs).strip()} dBFS"


def _wrapped(text: str, *, indent: int) -> list[str]:
    return wrapped(text, columns=width(sys.stdout), indent=indent)


def _tell(lines: Iterable[str]) -> None:
    for line in lines:
        tell(line)
