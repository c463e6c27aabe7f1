"""One step of the set-up: what to do, figures against their targets while it runs, what it found."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.setting.wanted import OPTIONS, Option, asked_for, shown_options
from audio.plan.setup import StepStatus
from audio.vocab.errors import UseError
from audio.vocab.setup import Row, SetupRecord
from audio.vocab.status import Status
from audio.vocab.step_names import STEPS, StepName
from tui.model import Model
from tui.present.glyphs import cut
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
    VERDICT_LOOKS,
    WELL,
    paragraph,
    text,
    two_sided,
)
from tui.present.target import band_columns, target_bar
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.stages.steps import said_of, step_row
from tui.stepping import stepped
from tui.widgets.lines import Lines

SILENT_STEPS: tuple[StepName, ...] = ("silence",)
"""Steps that send nothing: they need no countdown."""

BAR_CELLS = 27
TALL_FROM = 32
"""Rows from which what a step found before is shown, too."""

EARLIER = 12

CAUTION = "Sound comes out of the speaker. Ears away from it; standby while you replug."

FOR: dict[StepName, str] = {
    "wire": "A quiet tone leaves the send; the inputs that hear it are named.",
    "silence": "Nothing plays. Noise and hum of every return are told apart; bypass any gate for it.",
    "send level": "Does the amp see what the guitar gave it? The loop through the reamp box tells.",
    "return gain": "The loudest four seconds go round; set each preamp so that its peak is in the target.",
    "polarity": "The test click tells which microphones are upside down, and how far they stand.",
    "sound": "A phrase through the chain, kept; or held against the one of last week while you turn knobs.",
    "delay": "The test click measures the round trip, and whether it is the one of the last opening.",
}


class StepScreen(Face):
    """A step before, while and after it runs."""

    ACTIONS = (
        "enter", "set", "stop", "back", "walk_left", "walk_right", "choose_up", "choose_down", "name",
        "keys", "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    StepScreen { layout: vertical; }
    StepScreen #head { height: 2; }
    StepScreen #say { height: auto; max-height: 4; }
    StepScreen #rows { height: auto; }
    StepScreen #told { height: 1fr; }
    StepScreen #all { height: auto; }
    StepScreen #message { height: auto; max-height: 4; }
    StepScreen #keys { height: 2; }
    """

    def __init__(self, step: StepName) -> None:
        super().__init__()
        self.step = step
        self._option = 0

    def body(self) -> ComposeResult:
        """Make the view."""
        for name in ("head", "say", "rows", "told", "all", "message", "keys"):
            yield Lines(id=name)

    # ------------------------------------------------------------ what it knows

    @property
    def _status(self) -> StepStatus:
        return next(one for one in self.desk.model.standing() if one.step == self.step)

    @property
    def _runs(self) -> bool:
        model = self.desk.model
        return model.doing == "step" or model.countdown_s is not None

    def _options(self) -> tuple[Option, ...]:
        return shown_options(self.step, self._word)

    def _word(self, option: Option) -> str:
        return self.desk.model.told.get((self.step, option.name), option.first)

    def _rows_now(self) -> tuple[Row, ...]:
        model, record = self.desk.model, self._status.record
        if self._runs:
            return model.live.rows if model.live is not None else ()
        return record.outcome.rows if record is not None else ()

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        model, columns = self.desk.model, self.size.width
        self.lines("head").put([self._head(columns), text()])
        self.lines("say").put([*self._say(model, columns), text()])
        self.lines("rows").put([_row(one) for one in self._rows_now()])
        self.lines("told").put(self._told(columns))
        self.lines("all").put(self._all_steps())
        self.lines("message").put(self._message(columns))
        keys = key_line(self.keys_here(), self.desk.settings, columns, main="enter")
        self.lines("keys").put(self.foot(keys))

    def _head(self, columns: int) -> Text:
        model, status = self.desk.model, self._status
        number = f"   step {STEPS.index(self.step) + 1} of {len(STEPS)}"
        state = (f"   {SHAPES[status.state]} {status.state}", STATE_LOOKS[status.state])
        left = text(" ", (self.step.upper(), ACCENT), (number, FAINT), state)
        through = f"{model.part or ''}   {model.chain or 'no chain named'} "
        return two_sided(left, text((through, FAINT)), columns)

    def _say(self, model: Model, columns: int) -> list[Text]:
        if model.countdown_s is not None:
            return [
                text((f" in {model.countdown_s} s", ACCENT)),
                *paragraph(CAUTION, columns, CARE),
            ]
        if self._runs:
            words = model.live.say if model.live is not None else model.said or "opening …"
            return paragraph(words, columns, STRONG)[:3]
        return paragraph(FOR[self.step], columns, FAINT)[:3]

    def _told(self, columns: int) -> list[Text]:
        if self._runs:
            return []
        status = self._status
        shown = self._option_lines(columns)
        if status.record is None:
            return shown
        record = status.record
        when = f"{record.made_at[:10]} {record.made_at[11:16]}"
        verdict = "set" if record.verdict == "good" else record.verdict
        head = text(
            (f" {verdict.upper()}", VERDICT_LOOKS[record.verdict]),
            (f"   record {record.number}, {when}", FAINT),
        )
        stale = paragraph(status.why, columns, CARE) if status.state == "stale" else []
        return [text(), head, *stale, *said_of(status, columns), *shown, *self._earlier(record)]

    def _all_steps(self) -> list[Text]:
        """Return how every step stands, where there is room for it."""
        if self.size.height < TALL_FROM:
            return []
        return [
            text((" all steps", FAINT)),
            *(step_row(one, here=one.step == self.step) for one in self.desk.model.standing()),
        ]

    def _earlier(self, newest: SetupRecord) -> list[Text]:
        """Return what the step found before, the newest first, where there is room for it."""
        snapshot = self.desk.model.snapshot
        if snapshot is None or self.size.height < TALL_FROM:
            return []
        found = [
            one
            for one in reversed(snapshot.setups)
            if one.step == self.step and one.part == newest.part and one.number < newest.number
        ]
        lines = [text(), text((" before", FAINT))] if found else []
        for one in found[:EARLIER]:
            when = f"    {one.made_at[5:10]} {one.made_at[11:16]}  "
            said = one.outcome.headline
            lines.append(
                text((when, FAINT), (f"{one.verdict:<6}", VERDICT_LOOKS[one.verdict]), said)
            )
        return lines

    def _option_lines(self, columns: int) -> list[Text]:
        """Return what the step can be told, and under it what the chosen one is."""
        options = self._options()
        if not options:
            return []
        self._option = min(self._option, len(options) - 1)
        shown = [text()]
        for index, one in enumerate(options):
            here = index == self._option
            word = self._word(one)
            mark = "  ▸ " if here else "    "
            look = HERE if here else STRONG
            shown.append(text(mark, (f"{one.name:<12}", look), f"  {word or self._noted(one)}"))
        return [*shown, *paragraph(options[self._option].asks, columns, FAINT, indent=4)]

    def _noted(self, option: Option) -> str:
        """Return what the session says where nobody said anything here."""
        chosen = self.desk.model.chosen()
        recorded = chosen[1].recorded if chosen else None
        if option.name == "di-input" and recorded is not None and recorded.input is not None:
            return f"{recorded.input}, as noted with the part"
        return "−"

    def _message(self, columns: int) -> list[Text]:
        model = self.desk.model
        if model.troubles:
            return self.trouble(most=3)
        if self.desk.notice and not self._runs:
            return paragraph(self.desk.notice, columns, CARE)[:3]
        return [text()]

    def tick(self, status: Status | None) -> None:
        """Nothing moves by itself: figures come as news."""

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of what happens now."""
        if self.desk.model.countdown_s is not None:
            return (("enter", "call off"), ("keys", ""))
        if self._runs:
            return (("enter", "enough, take it"), ("stop", "stop"), ("keys", ""))
        again = "measure again" if self._status.record else "measure"
        found = [("enter", again), ("walk_right", "next step"), ("walk_left", "step before")]
        if self._options():
            found += [("choose_up+choose_down", "row"), ("name", "change it")]
        return (*found, ("back", "to the path"), ("keys", ""))

    # ------------------------------------------------------------ doing

    def action_enter(self) -> None:
        """Measure; while it runs: it is enough."""
        model = self.desk.model
        words = {one.name: self._word(one) for one in OPTIONS.get(self.step, ())}
        chosen = model.chosen()
        try:
            asked = asked_for(self.step, words, part=chosen[1] if chosen else None, attended=True)
        except UseError as error:
            self.desk.say(str(error))
            return
        self.desk.control.step(asked, sounds=self.step not in SILENT_STEPS)

    def action_set(self) -> None:
        """Measure: the same key that brought it here."""
        self.action_enter()

    def action_back(self) -> None:
        """Call the countdown off, put a message away, or go back to the path."""
        if self.desk.model.countdown_s is not None:
            self.desk.control.call_off()
        elif self.desk.model.troubles or self.desk.notice:
            self.desk.put_away()
        elif not self._runs:
            self.desk.back_to_path(None)

    def action_walk_right(self) -> None:
        """Go to the next step: this one may be skipped."""
        self._walk(1)

    def action_walk_left(self) -> None:
        """Go to the step before."""
        self._walk(-1)

    def _walk(self, step: int) -> None:
        if self._runs:
            return
        self.desk.notice = ""
        self.step = stepped(STEPS, STEPS.index(self.step), step)
        self._option = 0
        self.draw()

    def action_choose_up(self) -> None:
        """Choose the row above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Choose the row below."""
        self._choose(1)

    def _choose(self, step: int) -> None:
        if self._options() and not self._runs:
            self._option = stepped(range(len(self._options())), self._option, step)
            self.draw()

    def action_name(self) -> None:
        """Change the chosen row: to its next choice, or to what is typed."""
        if not self._options() or self._runs:
            return
        option = self._options()[self._option]
        if option.choices:
            word = self._word(option)
            at = option.choices.index(word) if word in option.choices else -1
            self._tell(option, option.choices[(at + 1) % len(option.choices)])
            return
        self.desk.push_screen(
            NameScreen(
                option.asks,
                first=self._word(option),
                problem=lambda _: None,
                named=lambda word: self._tell(option, word),
            )
        )

    def _tell(self, option: Option, word: str) -> None:
        self.desk.model.told[self.step, option.name] = word
        self.desk.changed()


def _row(row: Row) -> Text:
    """Return one figure in a line: name, figure, bar, word."""
    aimed = row.low is not None or row.high is not None
    look = BAD if row.latched else PLAIN if not aimed else WELL if row.is_inside else CARE
    line = text("  ", cut(row.name, 16), (f"{row.figure:>16}", STRONG), "  ")
    if row.bands_db:
        line += text((f"{band_columns(row.bands_db):<{BAR_CELLS}}", look), "  ")
    elif row.low is not None and row.high is not None:
        line += text((target_bar(row, BAR_CELLS), look), "  ")
    return line + text((row.word, look))
