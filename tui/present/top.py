"""The lines that always stand: whose session, which part, the path with its states, and the footer."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from audio.plan.path import Stage, StageName
from audio.vocab.plan import BARE
from audio.vocab.status import Status
from audio.vocab.units import clock_time
from audio.vocab.wiring import PortAudioDevice, Wiring
from tui.actions import BY_NAME, label
from tui.model import Model, Sound
from tui.present.cue import outs
from tui.present.looks import (
    ACCENT,
    BAD,
    CARE,
    FAINT,
    HERE,
    PLAIN,
    SHAPES,
    STATE_LOOKS,
    STRONG,
    fitted,
    text,
    two_sided,
)
from tui.present.tempo import tempo_words
from tui.settings import Settings

LOW_MINUTES = 15.0
"""Under this much recording time the disk is said to be nearly full."""


def header(model: Model, columns: int) -> Text:
    """Return whose session this is, which part, its tempo, and where it plays."""
    left = text(" ")
    if model.snapshot is not None:
        left += text((model.snapshot.file.name, STRONG))
    chosen = model.chosen()
    if chosen is not None:
        song, part = chosen
        left += text((" ▸ ", FAINT), song.name, (" ▸ ", FAINT), (part.name, STRONG))
        if section := model.section():
            left += text((f" {section}", ACCENT))
        if columns >= 110:
            words = tempo_words(song, model.tempo(song)) or song.metre or ""
            left += text((f"   {words}", FAINT))
    return two_sided(left, text((f"{_where(model)} ", FAINT)), columns)


def _where(model: Model) -> str:
    wiring = model.stream_wiring or model.wiring()
    if wiring is None:
        return ""
    return f"{device_name(wiring)}, {wiring.sample_rate / 1000:g} kHz"


def device_name(wiring: Wiring) -> str:
    """Return what a wiring plays through, for people."""
    device = wiring.device
    return device.name if isinstance(device, PortAudioDevice) else "simulated room"


def path_lines(
    stages: Sequence[Stage], here: StageName, columns: int, *, known: bool = True
) -> list[Text]:
    """Return the path: names in a line, under each its state, and what it is set to.

    Parameters
    ----------
    stages
        As they stand, in order.
    here
        Where the cursor is.
    columns
        Cells there are.
    known
        Whether there is a session to have states; without one only the names stand.

    Returns
    -------
    list of Text
        Three lines.
    """
    cell = max((columns - 1) // len(stages), 4)
    names, states, details = text(" "), text(" "), text(" ")
    for stage in stages:
        at = stage.name == here
        name = text((f"▸{stage.name}" if at else stage.name, HERE if at else STRONG))
        last = stage is stages[-1]
        rest = cell - name.cell_len - 2
        line = text(("" if last else f" {'─' * max(rest, 0)} ", FAINT))
        names += fitted(name + line, cell)
        look = STATE_LOOKS[stage.state]
        states += fitted(text((f"{SHAPES[stage.state]} {stage.state}", look)), cell)
        details += fitted(text((stage.detail, PLAIN if at else FAINT)), cell - 1) + text(" ")
    shown = (names, states, details) if known else (names, text(), text())
    return [fitted(line, columns) for line in shown]


def rule(columns: int) -> Text:
    """Return a faint line across."""
    return text(("─" * columns, FAINT))


# ---------------------------------------------------------------- the footer


def key_line(
    actions: Sequence[tuple[str, str]], settings: Settings, columns: int, *, main: str = "go"
) -> Text:
    """Return the keys that matter here: what fits, the first ones first.

    Parameters
    ----------
    actions
        (name, words) of each; empty words take the action's own. Names joined by ``+`` share words.
    settings
        The user's keys.
    columns
        Cells there are.
    main
        Which of them is the one that matters.

    Returns
    -------
    Text
        One line.
    """
    line = text(" ")
    for name, words in actions:
        names = name.split("+")
        keys = "".join(label(settings.keys_of(one)[0]) for one in names)
        look = ACCENT if main in names else STRONG
        piece = text((keys, look), f" {words or BY_NAME[names[0]].short}   ")
        if line.cell_len + len(piece.plain.rstrip()) > columns:
            break
        line += piece
    line.rstrip()
    return fitted(line, columns)


def state_line(model: Model, status: Status | None, columns: int) -> Text:
    """Return whether something sounds, what was lost, the space left, and what comes next."""
    sound = model.sound(status)
    left = text(" ", (sound, SOUND_LOOKS[sound]))
    if (model.roll is not None and model.roll.what == "pass") or model.rolled:
        lost = "nothing lost" if not model.lost else f"{model.lost} dropouts"
        left += text(" · ", (lost, BAD if model.lost else FAINT))
    if model.roll is not None and model.roll.cue_outputs:
        what = "heard" if model.roll.what == "flip" else "cue"
        left += text((f" · {what} on {outs(model.roll.cue_outputs)}", FAINT))
    left += text("  ")
    return left + two_sided(text(), _last_words(model, columns), columns - left.cell_len)


SOUND_LOOKS: dict[Sound, Style] = {
    "nothing sounds": FAINT,
    "about to send": CARE,
    "SENDING": BAD,
    "listening": CARE,
    "send silent": STRONG,
}


def _last_words(model: Model, columns: int) -> Text:
    pieces = [_space(model)]
    if columns >= 70 and (coming := next_words(model)):
        pieces.append(text((f"next: {coming}", FAINT)))
    line = text()
    for piece in [one for one in pieces if one.plain]:
        line += (text((" · ", FAINT)) if line.plain else text()) + piece
    return line + text(" ")


def next_words(model: Model) -> str:
    """Return what would start next, in a few words; empty when nothing can.

    Its number is not foretold: it is claimed at the start, after every number that was ever used.
    """
    if model.part is None or not model.chain or model.busy:
        return ""
    if model.card_shown and model.run().state == "ended":
        return ""
    if model.card_shown and model.run().at == BARE:
        return "the test click through the bare path"
    section = model.section()
    bars = f", {section}," if section else ""
    return f"{model.part}{bars} through {model.chain}"


def _space(model: Model) -> Text:
    if model.free_bytes is None:
        return text()
    minutes = _minutes(model)
    space = f"{model.free_bytes / 1e9:.0f} GB free"
    if minutes is not None and minutes < LOW_MINUTES:
        left = clock_time(minutes * 60)
        return text((f"▲ disk nearly full: {left} of recording left", CARE))
    return text((space, FAINT))


def _minutes(model: Model) -> float | None:
    wiring = model.wiring()
    if wiring is None or model.free_bytes is None:
        return None
    files = len(wiring.returns) + bool(wiring.witness_input) + bool(wiring.loop)
    return model.free_bytes / (files * wiring.depth // 8 * wiring.sample_rate * 60)
