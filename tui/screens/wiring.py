"""The wiring, chosen where the levels can be seen: device, send, returns; saved as a new file."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.orders import ChooseWiring, LookForDevices, OpenStream, Watch
from audio.vocab.status import Status
from audio.vocab.units import db_from_ratio
from tui.draft import Draft
from tui.present.cue import backing_words, count_in_words
from tui.present.glyphs import bar, cut, steps
from tui.present.looks import ACCENT, BAD, CARE, FAINT, HERE, STRONG, paragraph, text, window
from tui.present.plain import level
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.widgets.lines import Lines

KEYS = (
    ("walk_left+walk_right", "change"),
    ("choose_up+choose_down", "row"),
    ("enter", "reference"),
    ("name", "name"),
    ("stream", "levels"),
    ("wire", "save"),
    ("back", "leave"),
)

HEAD = ("device", "rate", "send", "listen", "backing", "count-in", "loop")
"""Rows above the inputs."""

BAR_CELLS = 16

EVERY = 3
"""Pictures between two of the levels: ten a second are enough to see a tap on a microphone."""

CAUTION = "Amp on standby before the device opens: an interface may thump."


class WiringScreen(Face):
    """One row for each thing that is wired."""

    ACTIONS = (
        "walk_left", "walk_right", "choose_up", "choose_down", "enter", "name", "stream", "wire",
        "back", "reread", "stop", "keys", "palette",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    WiringScreen { layout: vertical; }
    WiringScreen #head { height: 2; }
    WiringScreen #rows { height: 1fr; }
    WiringScreen #message { height: auto; max-height: 3; }
    WiringScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._draft: Draft | None = None
        self._row = 0
        self._watching = False
        self._pictures = 0

    @property
    def draft(self) -> Draft:
        """The wiring as it stands."""
        if self._draft is None:
            base, facts = self.desk.model.wiring(), self.desk.model.facts()
            rate = base.sample_rate if base else facts.sample_rate if facts else 48_000
            self._draft = Draft(base=base, sample_rate=rate)
        return self._draft

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Lines(id="rows")
        yield Lines(id="message")
        yield Lines(id="keys")

    def offered(self) -> None:
        """Take the list of devices that has come."""
        if self.desk.model.devices is not None:
            self.draft.offer(self.desk.model.devices)
        self.draw()

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw the rows."""
        columns = self.size.width
        head = text(
            (" wiring", ACCENT), ("   what is plugged where; channels as on the front", FAINT)
        )
        self.lines("head").put([head, text()])
        self._draw_rows(self.desk.status())
        self.lines("message").put(self._message(columns))
        keys = key_line(KEYS, self.desk.settings, columns, main="wire")
        self.lines("keys").put(self.foot(keys))

    def tick(self, status: Status | None) -> None:
        """Move the levels."""
        self._pictures += 1
        if self._watching and self._pictures % EVERY == 0:
            self._draw_rows(status)

    def _draw_rows(self, status: Status | None) -> None:
        rows = [*self._head_rows(), *self._input_rows(status if self._watching else None)]
        at = self._row + (1 if self._row >= len(HEAD) else 0)
        self.lines("rows").put(window(rows, at, max(self.size.height - 7, 3)))

    def _head_rows(self) -> list[Text]:
        draft, choice = self.draft, self.draft.choice
        device = (
            choice.words if choice else "looking for devices …" if self._looking() else "none there"
        )
        listen = " and ".join(str(n) for n in draft.listen) or "nowhere"
        loop = f"output {draft.loop.output} → input {draft.loop.input}" if draft.loop else "none"
        notes = {
            "device": (device, f"{choice.inputs} in, {choice.outputs} out" if choice else ""),
            "rate": (f"{draft.sample_rate} Hz", ""),
            "send": (f"output {draft.send}", "to the reamp box, nothing else"),
            "listen": (f"outputs {listen}" if draft.listen else listen, "where people hear"),
            "backing": (backing_words(draft.wired_cue), "the song's, heard there during a pass"),
            "count-in": (count_in_words(draft.wired_cue), "heard there before the music"),
            "loop": (loop, "a cable that stays"),
        }
        return [self._line(i, name, *notes[name]) for i, name in enumerate(HEAD)]

    def _line(self, row: int, name: str, value: str, note: str) -> Text:
        here = row == self._row
        mark = text("  ▸ " if here else "    ")
        return mark + text(
            (f"{name:<9}", FAINT), (cut(value, 26), HERE if here else STRONG), (f"  {note}", FAINT)
        )

    def _input_rows(self, status: Status | None) -> list[Text]:
        choice = self.draft.choice
        return [text()] + [
            self._input(n, status) for n in range(1, (choice.inputs if choice else 0) + 1)
        ]

    def _input(self, number: int, status: Status | None) -> Text:
        here = self._row == len(HEAD) + number - 1
        role = self.draft.role(number)
        name = (
            self.draft.names.get(number, f"mic {number}") if role in ("return", "reference") else ""
        )
        look = HERE if here else STRONG if role != "not used" else FAINT
        line = text(
            "  ▸ " if here else "    ",
            (f"in {number:<6}", FAINT),
            (f"{role:<10}", look),
            f" {cut(name, 16)}",
        )
        if status is None or number > len(status.inputs.peak):
            return line
        dbfs = db_from_ratio(status.inputs.peak[number - 1])
        clip = ("  CLIP", BAD) if status.inputs.clips[number - 1] else ("", FAINT)
        held = db_from_ratio(status.inputs.held[number - 1])
        shown = "".join(bar(steps(dbfs, BAR_CELLS), steps(held, BAR_CELLS), BAR_CELLS))
        return line + text((f" {shown}", STRONG), f" {level(dbfs)} dBFS", clip)

    def _looking(self) -> bool:
        return self.desk.model.devices is None

    def _message(self, columns: int) -> list[Text]:
        model = self.desk.model
        if model.troubles:
            return self.trouble(most=2)
        if self.draft.note:
            return [text((f" {self.draft.note}", CARE))]
        if self._watching and model.opened is not None:
            return [text((" tap a microphone: its input moves", FAINT))]
        reason = model.devices.reason if model.devices is not None else ""
        if reason and len(self.draft.choices) <= 1:
            return paragraph(reason, columns, FAINT)[:2]
        return [text((f" {CAUTION}", CARE))]

    # ------------------------------------------------------------ doing

    def action_choose_up(self) -> None:
        """Go to the row above."""
        self._row = max(self._row - 1, 0)
        self.draw()

    def action_choose_down(self) -> None:
        """Go to the row below."""
        choice = self.draft.choice
        self._row = min(self._row + 1, len(HEAD) + (choice.inputs if choice else 0) - 1)
        self.draw()

    def action_walk_left(self) -> None:
        """Step the value back."""
        self._step(-1)

    def action_walk_right(self) -> None:
        """Step the value on."""
        self._step(1)

    def action_enter(self) -> None:
        """Make the input the reference; step any other value on."""
        if self._row < len(HEAD):
            self._step(1)
            return
        self.draft.refer(self._row - len(HEAD) + 1)
        self.draw()

    def _step(self, step: int) -> None:
        draft = self.draft
        if self._row >= len(HEAD):
            draft.step_role(self._row - len(HEAD) + 1, step)
        else:
            steps = {
                "device": draft.step_device,
                "rate": draft.step_rate,
                "send": draft.step_send,
                "listen": draft.step_listen,
                "backing": draft.step_backing,
                "count-in": draft.step_count_in,
                "loop": draft.step_loop,
            }
            steps[HEAD[self._row]](step)
            self._watching = self._watching and HEAD[self._row] not in ("device", "rate")
        self.draw()

    def action_name(self) -> None:
        """Name the microphone on this input."""
        number = self._row - len(HEAD) + 1
        if number < 1 or self.draft.role(number) not in ("return", "reference"):
            return
        first = self.draft.names.get(number, f"mic {number}")
        asks = f"Which microphone is on input {number}?"
        self.desk.push_screen(
            NameScreen(
                asks,
                first=first,
                problem=lambda n: self.draft.name_problem(number, n),
                named=lambda n: self._named(number, n),
            )
        )

    def _named(self, number: int, name: str) -> None:
        self.draft.names[number] = name
        self.draw()

    def action_stream(self) -> None:
        """Open the device with every input, to see its levels; nothing is sent."""
        if self.draft.choice is not None and not self.desk.model.busy:
            self._watching = True
            self.desk.ask(Watch(wiring=self.draft.watching()), "stream")

    def action_wire(self) -> None:
        """Save as a new file, and use it."""
        problem = self.draft.problem()
        if problem:
            self.desk.say(problem)
            return
        first = self.draft.base.name if self.draft.base else "tonight"
        asks = "Save this wiring as a new file of the session, under the name:"
        self.desk.push_screen(
            NameScreen(asks, first=first, problem=self.draft.refused, named=self._save)
        )

    def _save(self, name: str) -> None:
        self.desk.ask(ChooseWiring(wiring=self.draft.wiring(name), name=name), "wiring")
        self.desk.back_to_path("send")

    def action_back(self) -> None:
        """Put a message away, or leave everything as it was."""
        if self.desk.model.troubles:
            self.desk.put_away()
            return
        if self._watching and self.desk.model.wiring() is not None:
            self.desk.ask(OpenStream(), "stream")
        self.desk.back_to_path(None)

    def action_reread(self) -> None:
        """Ask the system for its devices again."""
        self.desk.runner_look(LookForDevices())
