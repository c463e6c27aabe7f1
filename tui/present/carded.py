"""What the second terminal is shown, from what the screen knows."""

from __future__ import annotations

from textwrap import wrap

from audio.vocab.card import MOST_WORDS, CardLine, CardState, CardWord
from audio.vocab.findings import heaviest_first
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE
from audio.vocab.status import Status
from audio.vocab.variant import Variant
from tui.model import Model, Word
from tui.present.chain_words import ALL_OUT, card_lines, notes
from tui.present.run_cards import STANDBY, cautions, place
from tui.present.top import next_words
from tui.stages.variants import told

UNKNOWN = ("no file tells how it is set:", "set it as you know it")
"""In place of settings."""

FIGURES = 3
"""Of a step of the set-up: as many as are read from across a room."""

WORDS: dict[Word, CardWord] = {
    "opening": "opening",
    "no stream": "stand by",
    "ready": "stand by",
    "countdown": "countdown",
    "test click": "click",
    "setting up": "setting",
    "listening": "waiting",
    "comparing": "comparing",
    "measuring": "opening",
    "rolling": "rolling",
    "tail": "tail",
    "closing click": "closing",
    "judging": "judging",
    "stopping": "judging",
    "handing over": "stand by",
}


def card_state(model: Model, status: Status | None) -> CardState:
    """Return the picture for the second terminal; `sounding` is True wherever it is not known."""
    word = model.word(status)
    idle = not model.busy and model.countdown_s is None
    judged = model.judged() if idle else None
    findings = heaviest_first(judged.findings) if judged else ()
    heaviest = findings[0] if findings else None
    trouble = model.troubles[0].text if model.troubles and idle else ""
    song = model.chosen()
    left, sound = model.left_s(status), model.sound(status)
    by_hand = idle and model.card_shown and model.run().state in ("waiting", "held")
    held = model.run().reason if by_hand and model.run().state == "held" else ""
    sets = by_hand and not held
    return CardState(
        session=model.snapshot.file.name if model.snapshot else "",
        song=song[0].name if song else "",
        part=model.part or "",
        chain=model.chain,
        word=_word(trouble, judged, word, by_hand=by_hand),
        number=_number(model),
        sounding=sound in ("SENDING", "about to send"),
        left_s=max(left, 0.0) if left is not None else None,
        countdown_s=model.countdown_s,
        verdict=judged.verdict if judged and not by_hand else None,
        finding=trouble or held or (told(heaviest) if heaviest else ""),
        advice=_care(model) if sets else heaviest.advice if heaviest and not by_hand else "",
        card=_card(model) if sets else (),
        place=place(model.run(), model.plan()) if by_hand else "",
        next=next_words(model) if idle and model.hindrance() is None else "",
        may_go=idle and model.ready and model.hindrance() is None,
        may_stop=not idle or sound != "nothing sounds",
        said=_said(model),
    )


def _word(trouble: str, judged: Variant | None, word: Word, *, by_hand: bool) -> CardWord:
    if trouble:
        return "fault"
    if by_hand:
        return "by hand"
    return "verdict" if judged else WORDS[word]


def _card(model: Model) -> tuple[CardLine, ...]:
    """Return what is to be set by hand; of the bare path that every pedal comes out."""
    run = model.run()
    if run.at == BARE or model.chain == BARE_PATH:
        return ALL_OUT
    line = model.plan().line(run.at)
    if line is None:
        return ()
    chain = model.chain_files().get(line.wanted.chain)
    lines = card_lines(chain, line.touch)
    if chain is None:
        return (*lines, CardLine(word="", name=line.wanted.chain, settings=UNKNOWN))
    return (
        *lines,
        *(CardLine(word="", name="note", settings=_pieces(one)) for one in notes(chain)),
    )


def _pieces(words: str) -> tuple[str, ...]:
    """Return words in pieces that a card's line takes uncut."""
    return tuple(wrap(words, MOST_WORDS))


def _care(model: Model) -> str:
    """Return what to take care of while so much is touched: who stands at the amp reads it there."""
    line = model.plan().line(model.run().at)
    said = [STANDBY] if line is None else cautions(line.touch)
    return "; ".join(one.removeprefix("caution: ") for one in said)


def _said(model: Model) -> str:
    """Return what the desk says; of a step of the set-up its figures: who turns the knob needs them."""
    live = model.live
    if model.doing != "step" or live is None:
        return model.said
    figures = [f"{row.name} {row.figure} {row.word}".strip() for row in live.rows[:FIGURES]]
    return "; ".join(figures) or live.say


def _number(model: Model) -> int | None:
    if model.claimed is not None:
        return model.claimed.number
    judged = model.judged()
    return judged.number if judged else None
