"""What the second terminal is shown, from what the screen knows."""

from __future__ import annotations

from audio.vocab.card import CardState, CardWord
from audio.vocab.findings import Finding
from audio.vocab.status import Status
from tui.model import Model, Word
from tui.present.top import next_words
from tui.stages.variants import told

WORDS: dict[Word, CardWord] = {
    "opening": "opening",
    "no stream": "stand by",
    "ready": "stand by",
    "countdown": "countdown",
    "test click": "click",
    "listening": "waiting",
    "measuring": "opening",
    "rolling": "rolling",
    "tail": "tail",
    "closing click": "closing",
    "judging": "judging",
    "stopping": "judging",
}


def card_state(model: Model, status: Status | None) -> CardState:
    """Return the picture for the second terminal; `sounding` is True wherever it is not known."""
    word, outcome = model.word(status), model.outcome
    idle = not model.busy and model.countdown_s is None
    heaviest = _heaviest(model) if outcome == "verdict" and idle else None
    trouble = model.troubles[0].text if model.troubles and idle else ""
    song = model.chosen()
    left, sound = model.left_s(status), model.sound(status)
    return CardState(
        session=model.snapshot.file.name if model.snapshot else "",
        song=song[0].name if song else "",
        part=model.part or "",
        chain=model.chain,
        word="fault" if trouble else "verdict" if idle and outcome == "verdict" else WORDS[word],
        number=_number(model),
        sounding=sound in ("SENDING", "about to send"),
        left_s=max(left, 0.0) if left is not None else None,
        countdown_s=model.countdown_s,
        verdict=model.done.variant.verdict
        if outcome == "verdict" and idle and model.done
        else None,
        finding=trouble or (told(heaviest) if heaviest else ""),
        advice=heaviest.advice if heaviest else "",
        next=next_words(model) if idle and model.hindrance() is None else "",
        may_go=idle and model.ready and model.hindrance() is None,
        may_stop=not idle or sound != "nothing sounds",
        said=model.said,
    )


def _heaviest(model: Model) -> Finding | None:
    order = ("good", "look", "redo")
    findings = model.done.variant.findings if model.done else ()
    return max(findings, key=lambda one: order.index(one.weight), default=None)


def _number(model: Model) -> int | None:
    if model.claimed is not None:
        return model.claimed.number
    return model.done.variant.number if model.outcome == "verdict" and model.done else None
