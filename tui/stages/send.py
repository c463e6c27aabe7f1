"""Send: the one output that feeds the reamp box, and the stream behind it."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from tui.model import Model
from tui.present.glyphs import cut
from tui.present.looks import BAD, FAINT, STRONG, WELL, paragraph, text
from tui.present.top import device_name

KEYS = (
    ("stream", ""),
    ("set", ""),
    ("wire", ""),
    ("go", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
)

KEYS_EMPTY = (("wire", ""), ("walk_left+walk_right", "walk"), ("keys", ""))

EMPTY = (
    "The send is the one output that feeds the reamp box; returns are the inputs microphones are on."
    " Neither is wired yet: press {wire} to choose the device, see levels arrive, and save."
)

BROKEN = (
    "The session's wiring cannot be used. Correct the file named below and open the session again, or press"
    " {wire} to choose device, send and returns anew."
)

CAUTION = (
    "Speaker or rated load on a valve amp. Standby before the stream opens or a pedal is replugged: an"
    " interface may thump. Use a reamp box; start with its level down."
)


def lines(model: Model, columns: int, rows: int, *, key: Callable[[str], str]) -> list[Text]:
    """Return what the send is and whether its stream runs, in at most so many rows."""
    wiring = model.wiring()
    if wiring is None:
        return _without_wiring(model, columns, key("wire"))[:rows]
    listen = ", ".join(str(n) for n in wiring.listen_outputs) or "not wired"
    shown = [
        _row("device", device_name(wiring), f"{wiring.sample_rate} Hz"),
        _row(
            "send",
            f"output {wiring.send_output}",
            "to the reamp box, and nothing else",
        ),
        _row(
            "listen", f"outputs {listen}" if wiring.listen_outputs else listen, "where people hear"
        ),
        _row("loop", _loop(model), "a cable that stays"),
        _row("witness", _witness(model), "records the send itself"),
        _stream(model),
        text(),
        *paragraph(CAUTION, columns, FAINT),
    ]
    return shown[:rows]


def _without_wiring(model: Model, columns: int, wire: str) -> list[Text]:
    if model.snapshot is None:
        return []
    words = EMPTY if model.snapshot.file.wiring is None else BROKEN
    return [text(), *paragraph(words.format(wire=wire), columns)]


def _row(what: str, value: str, note: str) -> Text:
    return text((f" {what:<9}", FAINT), (cut(value, 26), STRONG), (note, FAINT))


def _loop(model: Model) -> str:
    wiring = model.wiring()
    if wiring is None or wiring.loop is None:
        return "not wired"
    return f"output {wiring.loop.output} → input {wiring.loop.input}"


def _witness(model: Model) -> str:
    wiring = model.wiring()
    return f"input {wiring.witness_input}" if wiring and wiring.witness_input else "not wired"


def _stream(model: Model) -> Text:
    opened = model.opened
    if opened is None:
        look = BAD if model.stream_lost else FAINT
        word = "lost" if model.stream_lost else "closed"
        return text(
            (f" {'stream':<9}", FAINT), (cut(word, 26), look), ("opens only when you say so", FAINT)
        )
    words = f"open, {opened.block_frames} frames a block"
    note = f"{opened.inputs} in, {opened.outputs} out, {opened.sample_format}"
    return text((f" {'stream':<9}", FAINT), (cut(words, 26), WELL), (note, FAINT))
