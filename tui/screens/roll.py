"""A pass: everything else steps back, then the verdict stands where the time stood."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key

from audio.grid.bars import BarGrid
from audio.vocab.findings import Verdict, heaviest_first
from audio.vocab.status import Status
from audio.vocab.units import clock_time
from audio.vocab.variant import Summary, Variant
from tui.actions import RATE
from tui.model import Model
from tui.present.bars import bar_ticks
from tui.present.cue import caution
from tui.present.looks import ACCENT, CARE, FAINT, STRONG, paragraph, text, two_sided
from tui.present.note_words import in_short
from tui.present.picking import of_all
from tui.present.top import key_line
from tui.screens import note_keys
from tui.screens.face import bindings
from tui.screens.note_keys import NoteKeys
from tui.stages.variants import told
from tui.tempi import chosen_grid
from tui.widgets.banner import Banner, Kind
from tui.widgets.lanes import Lanes
from tui.widgets.lines import Lines

KEYS_COUNTDOWN = (("go", "call off"), ("keys", ""))
KEYS_ROLLING = (("go", "stop and keep"), ("quit", "leave"), ("keys", ""))
KEYS_DONE = (
    ("name", "another chain"),
    ("go", "again"),
    ("evidence", ""),
    ("next_part", ""),
    ("back", ""),
    ("keys", ""),
    (RATE, "rate"),
    ("words", ""),
    ("keep", ""),
)

OF_VERDICT = ("evidence", RATE, "words", "keep")
"""Keys that mean something once there is a verdict."""

CAUTION = "Quiet test clicks first, then the guitar, as loud as the amp is set. Ears away from the speaker."


ANY_KEY = "Nothing to touch before this one: any key holds the run. "


class RollScreen(NoteKeys):
    """Countdown, clicks, the DI, its tail, the verdict."""

    ACTIONS = (
        "go",
        "stop",
        "back",
        "name",
        "next_part",
        "evidence",
        "enter",
        "keys",
        "palette",
        "quit",
        *note_keys.ACTIONS,
    )
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    RollScreen { layout: vertical; }
    RollScreen #top, RollScreen #said { height: auto; }
    RollScreen #banner { height: 5; margin: 0 1; }
    RollScreen.tall #banner { margin: 1 1; }
    RollScreen.large #banner { height: 10; }
    RollScreen #lanes { height: 1fr; margin: 0 1; }
    RollScreen #said { max-height: 6; }
    RollScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._marked = 0
        self._banner = Banner(id="banner")
        self._lanes = Lanes(id="lanes", clock=lambda: self.desk.clock())  # noqa: PLW0108 - no desk yet

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="top")
        yield self._banner
        yield Lines(id="said")
        yield self._lanes
        yield Lines(id="keys")

    def begin(self) -> None:
        """Lay the lanes out for the pass that comes: the DI's outline is ahead."""
        model = self.desk.model
        wiring, facts, chosen = model.stream_wiring, model.facts(), model.chosen()
        if not self.is_mounted or wiring is None or facts is None or chosen is None:
            return
        part = chosen[1]
        span = facts.frames / facts.sample_rate
        self._marked = 0
        self._lanes.begin(
            names=("send", *(one.name for one in wiring.returns)),
            channels=(f"out {wiring.send_output}", *(f"in {one.input}" for one in wiring.returns)),
            span_s=span,
            ticks=_ticks(
                chosen_grid(model, rate=facts.sample_rate), facts.frames, facts.sample_rate
            ),
            ahead=self.desk.waves.ahead(part.revisions[-1].file, trim_db=part.trim_db),
        )

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        columns = self.size.width
        self.set_class(self.size.height >= 30, "tall")
        self.set_class(self.size.height >= 44 and columns >= 110, "large")
        self.lines("top").put([self._top(columns)])
        self.lines("said").put(self._said(columns))
        keys = key_line(self.keys_here(), self.desk.settings, columns, main=self._main())
        self.lines("keys").put(self.foot(keys))
        self._say(self.desk.status())

    def tick(self, status: Status | None) -> None:
        """Move playhead, meters and time."""
        model = self.desk.model
        self._say(status)
        roll = model.roll
        if status is None or roll is None or roll.what != "pass" or status.roll_frame < 0:
            self._lanes.rest()
            return
        rate = roll.wiring.sample_rate
        played = status.roll_frame - roll.lead_in_frames + roll.di_from_frame
        sent, back = played / rate, (played - roll.shift_frames) / rate
        if model.lost > self._marked:
            self._lanes.mark(sent, "lost")
            self._marked = model.lost
        places = (sent, *(back for _ in roll.wiring.returns))
        self._lanes.advance(at_s=places, levels=of_all(status, roll.wiring))

    def _say(self, status: Status | None) -> None:
        words, kind = self._large(self.desk.model, status)
        self._banner.say(words, kind)

    def _large(self, model: Model, status: Status | None) -> tuple[str, Kind]:
        word = model.word(status)
        if word == "countdown":
            return f"{model.countdown_s}", "accent"
        if model.busy:
            left = model.left_s(status)
            if word == "rolling" and left is not None:
                return f"-{clock_time(left + 0.999)}", "plain"
            return word.split()[-1].upper(), "faint"
        done = model.judged()
        if done is not None:
            return done.verdict.upper(), KINDS[done.verdict]
        return ("STOPPED", "care") if model.outcome == "stopped" else ("NOT DONE", "bad")

    def _top(self, columns: int) -> Text:
        model = self.desk.model
        word = model.word(self.desk.status())
        done = model.judged()
        if model.busy or word == "countdown":
            number = f"{model.claimed.number:03d} " if model.claimed else ""
            left = text(
                " ", (word.upper(), ACCENT), f"   {model.part or ''}   {number}{model.chain}"
            )
        elif done is not None:
            what = f"   {done.part}   {done.number:03d} {done.chain.name}"
            state = "" if done.state == "kept" else f"   {done.state}"
            left = text(" ", ("VERDICT", ACCENT), what, (state, CARE))
        else:
            left = text(" ", ("NOT RECORDED", ACCENT), f"   {model.part or ''}   {model.chain}")
        return two_sided(left, text((f"{self._place()} ", FAINT)), columns)

    def _place(self) -> str:
        chosen = self.desk.model.chosen()
        return chosen[0].name if chosen else ""

    def _said(self, columns: int) -> list[Text]:
        model = self.desk.model
        if model.troubles:
            return self.trouble(most=4)
        if model.countdown_s is not None:
            rest = ANY_KEY if self.desk.runs.counts_by_itself else ""
            said = f"{rest}{CAUTION} {caution(model.stream_wiring or model.wiring())}".strip()
            return [text(), *paragraph(said, columns, CARE)[:4]]
        if model.busy:
            after = " leaves when the pass is judged ·" if self.desk.control.leaving else ""
            return [text((after, CARE), (f" {model.said}", FAINT))]
        done = model.judged()
        if done is not None:
            opinion = model.notes.of(done.part, done.number)
            said = in_short(opinion, done.chain.name) or "".join(opinion.words[-1:])
            beside = paragraph(said, columns, CARE)[:1] if said else []
            return [*self._verdict(done, columns), *beside]
        return [text((f" {model.said}", FAINT))]

    def _verdict(self, done: Variant, columns: int) -> list[Text]:
        findings = heaviest_first(done.findings)
        if not findings:
            return [text((" nothing to say against it", STRONG))]
        shown = paragraph(told(findings[0]), columns, STRONG)[:2]
        if findings[0].advice:
            shown += paragraph(findings[0].advice, columns, FAINT)[:2]
        if len(findings) > 1:
            key = self.key("evidence")
            shown.append(text((f" and {len(findings) - 1} more: {key} shows the evidence", FAINT)))
        return shown

    def noted(self) -> Summary | None:
        """Return the variant the pass has left, once nothing is under way any more."""
        model = self.desk.model
        return model.judged() if model.countdown_s is None and not model.busy else None

    def actions_here(self) -> tuple[str, ...]:
        """Return the actions of what happens now."""
        there = self.noted() is not None
        return tuple(name for name in self.ACTIONS if there or name not in note_keys.ACTIONS)

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of what happens now."""
        model = self.desk.model
        if model.countdown_s is not None:
            return KEYS_COUNTDOWN
        if model.busy:
            return KEYS_ROLLING
        judged = model.judged() is not None
        return tuple(one for one in KEYS_DONE if judged or one[0] not in OF_VERDICT)

    def _main(self) -> str:
        model = self.desk.model
        running = model.busy or model.countdown_s is not None
        return "go" if running or model.judged() is None else "name"

    # ------------------------------------------------------------ doing

    def on_key(self, event: Key) -> None:
        """Take any key for the wish to rest where the next pass counts down by itself."""
        if self.desk.runs.rest():
            event.stop()
            event.prevent_default()

    def action_back(self) -> None:
        """Call the countdown off, put a message away, or go back to the path."""
        if self.desk.model.countdown_s is not None:
            self.desk.control.call_off()
        elif self.desk.model.troubles:
            self.desk.put_away()
        elif not self.desk.model.busy:
            self.desk.back_to_path("variants")

    def action_enter(self) -> None:
        """Go back to the path."""
        self.action_back()

    def action_name(self) -> None:
        """Name the next chain."""
        if not self.desk.model.busy and self.desk.model.countdown_s is None:
            self.desk.model.chain = ""  # until it is said what is plugged in now, nothing can start
            self.desk.back_to_path("chain")

    def action_next_part(self) -> None:
        """Take the next part."""
        if not self.desk.model.busy and self.desk.model.countdown_s is None:
            self.desk.back_to_path("DI")
            self.desk.path_screen.action_next_part()

    def action_evidence(self) -> None:
        """Show what the verdict rests on."""
        done = self.desk.model.judged()
        if done is not None and not self.desk.model.busy:
            self.desk.show_evidence(done)


KINDS: dict[Verdict, Kind] = {"good": "well", "look": "care", "redo": "bad"}


def _ticks(bars: BarGrid | None, frames: int, rate: int) -> tuple[tuple[float, str], ...]:
    """Return bar numbers where the tempo is known, else some round seconds."""
    if bars is None:
        step = next(s for s in (1, 5, 10, 30, 60, 300) if frames / rate / s <= 24 or s == 300)
        return tuple((float(s), clock_time(s)) for s in range(0, frames // rate + 1, step))
    return bar_ticks(bars, frames=frames, rate=rate)
