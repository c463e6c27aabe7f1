"""Whether everything is wired as the wiring says, by a tone that comes and goes on the send."""

from __future__ import annotations

from typing import Final

import msgspec

from audio.verdict.thresholds import CLICK_HEADROOM_DB, LEAK_GAIN_DB, SNR_GOAL_DB
from audio.verdict.words import CHECK_CHAIN, listing
from audio.vocab.bursts import BurstReading
from audio.vocab.findings import Finding, Verdict
from audio.vocab.setup import ToneHeard
from audio.vocab.units import signed
from audio.vocab.wiring import Return, Wiring

TONE_GOAL_DB: Final = 20.0
"""A tone so far over the noise, seen through one of its bursts, is heard beyond doubt: its places and its
rests then differ ten to one."""

FLAT_DB: Final = 3.0
"""The two high tones of a copy that came by wire are as loud as each other to within this. A guitar's
loudspeaker falls by 24 dB an octave and more there (common practice, no source), 13 dB from one to the
other; wires side by side couple 6 dB an octave, 3.2 dB from one to the other, the other way."""

COUPLED_DB: Final = 6.0
"""By how much more the higher of them may come through wires side by side; noise takes its part."""

FALLEN_DB: Final = 10.0
"""A copy beside a loudspeaker's own sound is at least so much fainter than it, else it is no guitar's
loudspeaker that answered but a full-range one, whose high tones are its own: within 10 dB of its low ones,
wherever the microphone stands (common practice, no source)."""

MOVED_DB: Final = 0.5
"""A witness whose tone moves by this while a knob is turned hears that knob. A cable from an output to an
input repeats to hundredths of a dB, and a return mixed back 24 dB under the send moves it by half a
dB (1 ± 0.06)."""


class Toned(msgspec.Struct, frozen=True, kw_only=True):
    """One round of bursts, heard on every input of the stream."""

    wiring: Wiring
    inputs: tuple[ToneHeard, ...]
    level_dbfs: float
    """Peak as it was sent."""
    ceiling_dbfs: float

    def of(self, number: int) -> BurstReading:
        """Return the reading of an input, from 1."""
        return self.inputs[number - 1].reading

    @property
    def strays(self) -> tuple[ToneHeard, ...]:
        """Inputs that heard it and are not named by the wiring, the loudest first."""
        found = [one for one in self.inputs if not one.name and is_heard(one.reading)]
        return tuple(sorted(found, key=lambda one: -_gain(one.reading)))

    @property
    def missing(self) -> tuple[Return, ...]:
        """Returns that did not hear it."""
        return tuple(r for r in self.wiring.returns if not answers(self.of(r.input)))

    @property
    def misplaced(self) -> tuple[ToneHeard, ...]:
        """Unnamed inputs that hear a loudspeaker while as many returns hear nothing."""
        through = [one for one in self.strays if not is_copy(one.reading, named=False)]
        return tuple(through[: len(self.missing)])


def is_heard(reading: BurstReading) -> bool:
    """Return whether the tone was found and has a gain."""
    return bool(reading.gains_db)


def answers(reading: BurstReading) -> bool:
    """Return whether anything of the tone arrived, be it clipped."""
    return is_heard(reading) or reading.reason == "clipped"


def is_copy(reading: BurstReading, *, named: bool = True) -> bool:
    """Return whether an input hears the send by wire: alone, or beside a loudspeaker.

    Parameters
    ----------
    reading
        Of the input.
    named
        Whether the wiring says that a microphone is there. Such a one may be a full-range loudspeaker's,
        which is flat, too, but never faint.

    Returns
    -------
    bool
        Never true where a high tone was not heard.
    """
    if not is_heard(reading) or None in reading.gains_db:
        return False
    low, high, higher = (gain or 0.0 for gain in reading.gains_db)
    if not -FLAT_DB <= higher - high <= COUPLED_DB:
        return False
    alone = abs(low - high) <= COUPLED_DB and (not named or low <= LEAK_GAIN_DB)
    return alone or low - higher >= FALLEN_DB


def heard_enough(toned: Toned) -> bool:
    """Return whether the tone need not be raised further.

    It need not where every return hears it clearly, where it is lost, or where more would do harm.
    """
    returns = [toned.of(r.input) for r in toned.wiring.returns]
    levels = [r.over_noise_db for r in returns if r.over_noise_db is not None]
    everywhere = len(levels) == len(returns) and min(levels) >= TONE_GOAL_DB
    one_is_deaf = max(levels, default=0.0) >= SNR_GOAL_DB
    near_clipping = any(r.peak_dbfs > -CLICK_HEADROOM_DB for r in returns)
    dead = all(r.reason == "digital silence" for r in returns)
    astray = any(
        _over(one.reading) >= TONE_GOAL_DB and one in toned.misplaced for one in toned.strays
    )
    at_top = toned.level_dbfs >= toned.ceiling_dbfs
    return everywhere or one_is_deaf or near_clipping or dead or astray or at_top


def findings_of_wire(toned: Toned, *, moved_db: float | None, watched: bool) -> tuple[Finding, ...]:
    """Return what is not as the wiring says.

    Parameters
    ----------
    toned
        The bursts that were judged.
    moved_db
        How far the witness moved under the steady tone; None where it was not watched.
    watched
        Whether it was to be watched.

    Returns
    -------
    tuple of Finding
        Redo where the reference hears nothing or monitoring reaches the send; look for any other
        return and for leaks; what could not be told informs.
    """
    found = [f for r in toned.wiring.returns for f in _of_return(toned, r)]
    found += _absent(toned) + _astray(toned) + _cables(toned)
    return (*found, *_monitor(toned, moved_db=moved_db, watched=watched))


def headline_of_wire(toned: Toned, found: tuple[Finding, ...]) -> str:
    """Return how it is wired, in one sentence."""
    worst = [f for f in found if f.weight == "redo"] or [f for f in found if f.weight == "look"]
    if worst:
        return worst[0].text
    named = [one for one in toned.inputs if one.name]
    heard = listing([f"{one.name} on input {one.input}" for one in named])
    return f"The send is heard on {heard}, at a tone of {signed(toned.level_dbfs)} dBFS."


def summary_of_wire(toned: Toned, found: tuple[Finding, ...]) -> str:
    """Return the same in one to three words."""
    missing, misplaced = toned.missing, toned.misplaced
    if misplaced:
        return f"in {misplaced[0].input}, not {missing[0].input}"
    if len(missing) == len(toned.wiring.returns):
        return "nothing heard"
    if missing:
        return f"{missing[0].name} silent"
    codes = {f.code for f in found if f.weight != "good"}
    if codes & {"monitor-reaches-send", "fed-back"}:
        return "monitor leaks"
    if codes & {"send-leaks", "send-astray"}:
        return "leak"
    return "look" if codes else "all heard"


def _weight(toned: Toned, missing: tuple[Return, ...]) -> Verdict:
    reference = any(r.name == toned.wiring.reference for r in missing)
    return "redo" if reference else "look"


def _gain(reading: BurstReading) -> float:
    return (reading.gains_db[0] if reading.gains_db else None) or 0.0


def _over(reading: BurstReading) -> float:
    return reading.over_noise_db or 0.0


def _of_return(toned: Toned, one: Return) -> list[Finding]:
    """Return what a return's own reading says: clipped, dead, a copy."""
    reading, weight = toned.of(one.input), _weight(toned, (one,))
    where = f"{one.name} (input {one.input})"
    if reading.reason == "clipped":
        text = f"{where} clipped at the converter at a tone of {signed(toned.level_dbfs)} dBFS."
        advice = "Turn its preamp down."
        return [Finding(code="tone-clipped", weight=weight, text=text, advice=advice)]
    if reading.reason == "digital silence":
        text = (
            f"Input {one.input} ({one.name}) is digitally silent: "
            "no converter behind it, muted, or not connected."
        )
        advice = "Check the input's number, its mute, and the interface's routing."
        return [Finding(code="input-dead", weight=weight, text=text, advice=advice)]
    return [_leak(toned, one, reading, where)] if is_copy(reading) else []


def _leak(toned: Toned, one: Return, reading: BurstReading, where: str) -> Finding:
    faint = signed(abs(reading.gains_db[-1] or 0.0))
    if (
        _gain(reading) <= LEAK_GAIN_DB
        and _gain(reading) - (reading.gains_db[-1] or 0.0) < FALLEN_DB
    ):
        text = f"{where} hears the send by wire alone, {faint} dB under it, and no loudspeaker."
        weight: Verdict = _weight(toned, (one,))
        advice = f"{CHECK_CHAIN}; then part the cables of send and microphone."
        return Finding(code="only-leak", weight=weight, text=text, advice=advice)
    text = f"{where} hears the send by wire, too, {faint} dB under it, before the air brings it."
    advice = (
        "Part the cables of send and microphone, and turn off direct monitoring and loopback in the "
        "interface's mixer."
    )
    return Finding(code="send-leaks", weight="look", text=text, advice=advice)


def _absent(toned: Toned) -> list[Finding]:
    """Return one finding for what the returns that hear nothing have in common."""
    missing, astray = toned.missing, toned.misplaced
    if not missing:
        return []
    if astray:
        return [_wrong_input(toned, missing, astray)]
    silent = tuple(r for r in missing if toned.of(r.input).reason == "nothing")
    if not silent:
        return []
    names = listing([f"{r.name} (input {r.input})" for r in silent])
    level = f"at a tone of {signed(toned.level_dbfs)} dBFS"
    hearing = [r.name for r in toned.wiring.returns if r not in missing]
    if hearing:
        text = f"{names} hears only its own noise {level}; {listing(hearing)} hears the tone."
        advice = "Check the microphone, its cable, phantom power, preamp and input."
        weight = _weight(toned, silent)
        return [Finding(code="return-silent", weight=weight, text=text, advice=advice)]
    return [_nowhere(toned, names, level)]


def _wrong_input(
    toned: Toned, missing: tuple[Return, ...], astray: tuple[ToneHeard, ...]
) -> Finding:
    if len(missing) == 1:
        text = (
            f"{missing[0].name} is wired to input {missing[0].input}, but the tone comes back on "
            f"input {astray[0].input}."
        )
    else:
        wired = listing([f"{r.name} to input {r.input}" for r in missing])
        came = listing([str(number) for number in sorted(one.input for one in astray)])
        inputs = "inputs" if len(astray) > 1 else "input"
        text = f"Wired are {wired}, but the tone comes back on {inputs} {came}."
    advice = "Move the cable, or change the input in the wiring file."
    return Finding(code="wrong-input", weight=_weight(toned, missing), text=text, advice=advice)


def _nowhere(toned: Toned, names: str, level: str) -> Finding:
    wiring = toned.wiring
    if wiring.witness_input is not None and answers(toned.of(wiring.witness_input)):
        text = (
            f"Nothing came back on {names} {level}, but the witness heard it: the send is fine, "
            "the trouble lies from the first pedal on."
        )
        advice = f"{CHECK_CHAIN}, the microphone's preamp."
        return Finding(code="nothing-came-back", weight="redo", text=text, advice=advice)
    if wiring.witness_input is not None:
        text = (
            f"Neither the witness on input {wiring.witness_input} nor any microphone heard the tone "
            f"{level}: it does not leave."
        )
        advice = (
            f"Check output {wiring.send_output}, its level in the interface's mixer, "
            "the reamp box and its cable."
        )
        return Finding(code="send-dead", weight="redo", text=text, advice=advice)
    text = f"Nothing came back on {names} {level}, and no other input heard it."
    advice = (
        f"{CHECK_CHAIN}, output {wiring.send_output} and the reamp box, the microphone's preamp."
    )
    return Finding(code="nothing-came-back", weight="redo", text=text, advice=advice)


def _astray(toned: Toned) -> list[Finding]:
    """Return a finding for each input nobody named that hears the send as well."""
    return [_stray(one) for one in toned.strays if one not in toned.misplaced]


def _stray(one: ToneHeard) -> Finding:
    gain = signed(_gain(one.reading))
    if is_copy(one.reading, named=False):
        text = f"Input {one.input}, which the wiring does not name, hears the send by wire ({gain} dB)."
        advice = (
            "A loopback of the interface, or a leak between cables: turn it off or part them before "
            "anything is recorded there."
        )
    else:
        text = f"Input {one.input}, which the wiring does not name, hears the amp, too ({gain} dB)."
        advice = "Name the microphone there as a return, or take its cable out."
    return Finding(code="send-astray", weight="look", text=text, advice=advice)


def _cables(toned: Toned) -> list[Finding]:
    """Return what is to be said of witness and loop where a microphone hears the tone."""
    if len(toned.missing) == len(toned.wiring.returns):
        return []
    found = []
    wired = toned.wiring.witness_input
    if wired is not None and not answers(toned.of(wired)):
        text = f"The witness on input {wired} does not hear the send."
        advice = "Check the cable from the box before the first pedal to that input."
        found.append(Finding(code="witness-silent", weight="look", text=text, advice=advice))
    loop = toned.wiring.loop
    if loop is not None and not answers(toned.of(loop.input)):
        text = f"The loop cable's input {loop.input} does not hear output {loop.output}."
        advice = "Check the cable between the two, or take the loop out of the wiring."
        found.append(Finding(code="loop-silent", weight="look", text=text, advice=advice))
    return found


def _monitor(toned: Toned, *, moved_db: float | None, watched: bool) -> tuple[Finding, ...]:
    wired, output = toned.wiring.witness_input, toned.wiring.send_output
    if not watched:
        return ()
    if wired is None:
        text = "Whether direct monitoring reaches the send cannot be told without a witness."
        advice = (
            "Lead the thru of the DI or reamp box before the first pedal into a free input, and name "
            "it in the wiring: witness: {input: N}."
        )
        return (Finding(code="monitor-unknown", weight="good", text=text, advice=advice),)
    if moved_db is None or moved_db <= MOVED_DB:
        return ()
    text = (
        f"The witness moved by {moved_db:.1f} dB while the steady tone sounded: direct monitoring "
        f"reaches the send on output {output}."
    )
    advice = f"Turn off direct monitoring to output {output} in the interface's mixer."
    return (Finding(code="monitor-reaches-send", weight="redo", text=text, advice=advice),)
