"""Why a click was not heard: what the silent inputs, the witness and the stray inputs tell together."""

from __future__ import annotations

from audio.verdict.heard import Heard, answered, is_placed
from audio.verdict.strayed import stray_finding
from audio.verdict.words import CHECK_CHAIN, HUM_ADVICE, listing
from audio.vocab.findings import Finding, Verdict
from audio.vocab.units import signed
from audio.vocab.wiring import Return


def findings_of_absence(heard: Heard) -> list[Finding]:
    """Return one finding for each cause that kept the click from a return or from the witness."""
    found = [f for r in heard.wiring.returns for f in _reasoned(heard, r)]
    found += _only_hum(heard)
    missing = [r for r in heard.wiring.returns if heard.of(r).reason == "nothing"]
    astray = [r for r in heard.wiring.returns if not answered(heard.of(r))]
    if heard.strays and astray:
        found.append(stray_finding(heard.strays, astray, weight=_weight(heard, astray)))
    elif missing:
        found += _nothing(heard, missing)
    return found + _witness(heard)


def _weight(heard: Heard, missing: list[Return]) -> Verdict:
    """Weigh by whether the reference is among the returns that miss it."""
    return "redo" if any(r.name == heard.wiring.reference for r in missing) else "look"


def _reasoned(heard: Heard, one: Return) -> list[Finding]:
    """Return what the reading itself says: clipped, dead, hum, contradictory."""
    reading, weight = heard.of(one), _weight(heard, [one])
    match reading.reason:
        case "clipped":
            text = (
                f"{one.name} clipped at the converter (input {one.input}) "
                f"at a click of {signed(heard.level_dbfs)} dBFS."
            )
            advice = "Turn its preamp down."
            return [Finding(code="click-clipped", weight=weight, text=text, advice=advice)]
        case "digital silence":
            text = (
                f"Input {one.input} ({one.name}) is digitally silent: "
                "no converter behind it, muted, or not connected."
            )
            advice = "Check the input's number, its mute, and the interface's routing."
            return [Finding(code="input-dead", weight=weight, text=text, advice=advice)]
        case "unclear":
            text = f"The clicks contradict each other on {one.name}: a modulation or a gate in the chain."
            advice = "Bypass it for the click; else the music must be the evidence of where the pass lies."
            return [Finding(code="clicks-contradict", weight="look", text=text, advice=advice)]
        case "only hum" | "nothing" | None:  # told for all returns together
            return []


def _only_hum(heard: Heard) -> list[Finding]:
    humming = [r for r in heard.wiring.returns if heard.of(r).reason == "only hum"]
    if not humming:
        return []
    facts = listing([_hum_on(heard, r) for r in humming])
    text = f"Only hum came back on {facts}: a cable is open or its screen is broken."
    weight = _weight(heard, humming)
    return [Finding(code="only-hum", weight=weight, text=text, advice=HUM_ADVICE)]


def _hum_on(heard: Heard, one: Return) -> str:
    reading = heard.of(one)
    hz = None if reading.hum_hz is None else f"{reading.hum_hz} Hz"
    level = None if reading.hum_dbfs is None else f"{signed(reading.hum_dbfs)} dBFS"
    facts = ", ".join(f for f in (hz, level) if f)
    return f"{one.name} ({facts})" if facts else one.name


def _nothing(heard: Heard, missing: list[Return]) -> list[Finding]:
    names, witness = listing([r.name for r in missing]), heard.witness
    level = f"at a click of {signed(heard.level_dbfs)} dBFS"
    hearing = [r.name for r in heard.wiring.returns if answered(heard.of(r))]
    if hearing:
        text = f"{names} heard nothing {level}, {listing(hearing)} did."
        advice = "Check the microphone, its cable, phantom power, preamp and input."
        return [
            Finding(code="return-silent", weight=_weight(heard, missing), text=text, advice=advice)
        ]
    if witness is None:
        text = f"Nothing came back on {names} {level}."
        output = heard.wiring.send_output
        advice = f"{CHECK_CHAIN}, output {output} and the reamp box, the microphone's preamp."
        return [Finding(code="nothing-came-back", weight="redo", text=text, advice=advice)]
    if not answered(witness):
        return []  # the witness's own finding says where it ends
    text = (
        f"Nothing came back on {names} {level}, but the witness heard it: the send is fine, "
        "the trouble lies from the first pedal on."
    )
    advice = f"{CHECK_CHAIN}, the microphone's preamp."
    return [Finding(code="nothing-came-back", weight="redo", text=text, advice=advice)]


def _witness(heard: Heard) -> list[Finding]:
    witness, wired = heard.witness, heard.wiring.witness_input
    if witness is None or is_placed(witness):
        return []
    if answered(witness):
        text = f"The click is not clean on the witness (input {wired}): clipped or contradictory."
        advice = "Turn its input down; a line or DI output needs no preamp."
        return [Finding(code="witness-unclear", weight="look", text=text, advice=advice)]
    hearing = [r.name for r in heard.wiring.returns if answered(heard.of(r))]
    if hearing:
        text = f"The witness on input {wired} heard nothing, {listing(hearing)} did."
        advice = "Check the cable from the box before the first pedal to that input."
        return [Finding(code="witness-silent", weight="look", text=text, advice=advice)]
    text = f"Neither the witness on input {wired} nor any microphone heard the click: it does not leave."
    advice = (
        f"Check output {heard.wiring.send_output}, its level in the interface's mixer, "
        "the reamp box and its cable."
    )
    return [Finding(code="send-dead", weight="redo", text=text, advice=advice)]
