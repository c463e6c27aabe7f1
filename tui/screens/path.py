"""The path, walked: stages in a line, the one under the cursor open below."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.events import Click

from audio.jobs.orders import LookAtDi, LookForDevices
from audio.plan.path import STAGES, Stage, StageName, first_open
from audio.vocab.layers import variant_key
from audio.vocab.status import Status
from audio.vocab.step_names import STEPS
from tui.chain_views import name_chain, write_chain
from tui.model import Model
from tui.present.looks import CARE, FAINT, paragraph, text
from tui.present.picking import of_returns, of_send
from tui.present.top import header, key_line, path_lines, rule
from tui.screens.face import bindings
from tui.screens.section_keys import SectionKeys
from tui.screens.variant_list import OF_VARIANTS, OF_WAVE
from tui.screens.wave_keys import WaveKeys
from tui.stages import chain, di, returns, send, steps, variants
from tui.stepping import stepped
from tui.widgets.lines import Lines

if TYPE_CHECKING:
    from rich.text import Text

    from tui.widgets.levels import Levels
    from tui.widgets.waveform import Waveform

KEYS: dict[StageName, tuple[tuple[str, str], ...]] = {
    "DI": di.KEYS,
    "send": send.KEYS,
    "chain": chain.KEYS,
    "amp": steps.KEYS,
    "mics": steps.KEYS,
    "returns": returns.KEYS,
    "variants": variants.KEYS,
}

LIST_ROWS = 7
"""Most rows the list of parts takes from the waveform on a small screen."""

METERED = ("send", "returns")
"""Stages whose levels are shown."""


class PathScreen(WaveKeys, SectionKeys):
    """The way to move, and what each stage is for."""

    ACTIONS = (
        "go", "walk_left", "walk_right", "choose_up", "choose_down", "enter", "back", "stop", "name",
        "write", "run", "plan", "section", "note_values", "next_part", "set", "click",
        "stream", "wire", "evidence",         *OF_WAVE, "reread", "keys", "palette", "quit", *OF_VARIANTS,
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    PathScreen { layout: vertical; }
    PathScreen #path { height: auto; }
    PathScreen #list { height: auto; }
    PathScreen #below { height: 1fr; }
    PathScreen #levels { margin: 1 1 0 1; }
    PathScreen #wave { height: 1fr; margin: 0 1; }
    PathScreen #message { height: auto; max-height: 4; }
    PathScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._walked = False
        self.step_at = 0

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="path")
        yield Lines(id="list")
        yield Lines(id="below")
        yield Lines(id="message")
        yield Lines(id="keys")

    @cached_property
    def levels(self) -> Levels:
        """The levels, made when there is a wiring: the first picture need not wait for them."""
        from tui.widgets.levels import Levels  # noqa: PLC0415 - see above

        levels = Levels(id="levels", clock=self.desk.clock)
        levels.display = False
        self.mount(levels, before="#below")
        return levels

    @cached_property
    def wave(self) -> Waveform:
        """The waveform, made when there is a part to show: the first picture need not wait for it."""
        from tui.widgets.waveform import Waveform  # noqa: PLC0415 - see above

        wave = Waveform(id="wave")
        wave.display = False
        self.mount(wave, before="#below")
        return wave

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        model, columns = self.desk.model, self.size.width
        stages = model.path()
        here = self._place(stages)
        self.lines("path").put(
            [
                header(model, columns),
                *path_lines(stages, here, columns, known=model.ready),
                rule(columns),
            ]
        )
        if model.parts():
            self.wave.display = here == "DI"
        metered = here in METERED and model.wiring() is not None and model.opened is not None
        if model.wiring() is not None:
            self.levels.display = metered
        self._draw_stage(here, columns)
        self.lines("message").put(self._message(stages, here, columns))
        keys = key_line(self._keys(here), self.desk.settings, columns, main=self._main(here))
        self.lines("keys").put(self.foot(keys))

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of the stage under the cursor."""
        return KEYS[self.here or "DI"]

    def _keys(self, here: StageName) -> tuple[tuple[str, str], ...]:
        """Return the keys of a stage; the stream's says what it would do now."""
        model = self.desk.model
        if here == "DI" and model.ready and not model.parts():
            return di.KEYS_EMPTY
        if here == "send" and model.ready and model.wiring() is None:
            return send.KEYS_EMPTY
        if model.doing == "click":
            return (("stop", "stop the click"), ("keys", ""))
        does = "close stream" if model.opened is not None else "open the stream"
        return tuple((name, does if name == "stream" else words) for name, words in KEYS[here])

    def _main(self, here: StageName) -> str:
        """Return the action that matters at a stage now."""
        model = self.desk.model
        if model.doing == "click":
            return "stop"
        if here == "send" and model.opened is None:
            return "stream" if model.wiring() is not None else "wire"
        return "go"

    def _place(self, stages: tuple[Stage, ...]) -> StageName:
        """Return where the cursor is: at the first stage that is not right, until someone walks."""
        if not self._walked and self.desk.model.ready:
            first = first_open(stages).name
            if first != self.here:
                self.here = first
                self.lay_out()
        return self.here or "DI"

    def _draw_stage(self, here: StageName, columns: int) -> None:
        model, rows = self.desk.model, max(self.size.height - 10, 4)
        listed: list[Text] = []
        below = [text(), text((" opening the session …", FAINT))]
        if model.ready:
            listed, below = self._stage_lines(model, here, columns, rows)
        self.lines("list").put(listed)
        self.lines("below").put(below)
        self.lines("below").display = here != "DI" or not model.parts()

    def _stage_lines(
        self, model: Model, here: StageName, columns: int, rows: int
    ) -> tuple[list[Text], list[Text]]:
        match here:
            case "DI":
                return di.lines(model, columns, max(LIST_ROWS, rows // 3), key=self.key), []
            case "send":
                return self._step_rows(here), send.lines(
                    model, columns, max(rows - 3, 3), key=self.key
                )
            case "chain":
                return [], chain.lines(model, self.size.width, rows, key=self.key)
            case "amp" | "mics":
                return [], steps.lines(model, here, columns, rows, at=self.step_at, key=self.key)
            case "returns":
                return self._step_rows(here), [
                    text(),
                    *returns.lines(model, columns, max(rows - 3, 3), key=self.key),
                ]
            case "variants":
                at = self.at_variants()
                return [], variants.lines(model, columns, rows, at=at, key=self.key)

    def _step_rows(self, here: StageName) -> list[Text]:
        return [text(), *steps.step_rows(self.desk.model, here, at=self.step_at)]

    def _message(self, stages: tuple[Stage, ...], here: StageName, columns: int) -> list[Text]:
        model = self.desk.model
        if model.troubles:
            return self.trouble(most=3)
        if not model.ready:
            return [text((f" {model.said}", FAINT))]
        if model.playing:
            return paragraph(self._left_running(), columns, CARE)[:3]
        if model.busy and model.doing != "session":  # that is over in a moment
            word = model.word(self.desk.status())
            return paragraph(f"{word}: {model.said}" if model.said else f"{word} …", columns)[:2]
        if self.desk.notice:
            return paragraph(self.desk.notice, columns, CARE)[:3]
        stage = next(one for one in stages if one.name == here)
        return paragraph(stage.why, columns, FAINT)[:3] if stage.why else [text()]

    def _left_running(self) -> str:
        one = self.desk.model.playing[0]
        return (
            f"{one.part} {one.number:03d} was left running and still plays; {self.key('stop')} stops it and"
            " keeps what was recorded, else it is judged when it ends"
        )

    def tick(self, status: Status | None) -> None:
        """Move the levels."""
        if status is not None and self.levels.display:
            self._advance(self.levels, status)

    # ------------------------------------------------------------ walking

    def walk_to(self, name: StageName) -> None:
        """Put the cursor on a stage."""
        self.here, self._walked, self.step_at = name, True, 0
        self.desk.notice = ""
        self.lay_out()
        self.draw()

    def lay_out(self) -> None:
        """Give levels and waveform what they show at this stage."""
        self._arrange_levels()
        self.desk.show_di()

    def action_walk_left(self) -> None:
        """Walk against the signal."""
        self._walk(-1)

    def action_walk_right(self) -> None:
        """Walk with the signal."""
        self._walk(1)

    def _walk(self, step: int) -> None:
        self.walk_to(stepped(STAGES, STAGES.index(self.here or "DI"), step))

    def action_choose_up(self) -> None:
        """Choose the line above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Choose the line below."""
        self._choose(1)

    def _choose(self, step: int) -> None:
        model = self.desk.model
        self._walked = True  # someone is at work here: the cursor stays
        self.desk.notice = ""
        if self.here == "chain":
            model.chain = _moved(model.chains(), model.chain, step)
        elif self.here == "variants":
            shown = range(max(len(model.listed()), 1))
            self.variant_at = stepped(shown, self.variant_at, step)
        elif self.here == "DI":
            self._choose_part(step)
        elif there := steps.steps_of(self.here or "DI"):
            self.step_at = stepped(range(len(there)), self.step_at, step)
        self.desk.changed()

    def _choose_part(self, step: int) -> None:
        model = self.desk.model
        names = [part.name for _, part in model.parts()]
        if names:
            self._take_part(_moved(names, model.part or "", step))

    def action_next_part(self) -> None:
        """Take the next part, from the first again after the last."""
        names = [part.name for _, part in self.desk.model.parts()]
        at = names.index(self.desk.model.part) if self.desk.model.part in names else -1
        if names:
            self._take_part(names[(at + 1) % len(names)])
            self.desk.changed()

    def _take_part(self, name: str) -> None:
        self.desk.model.part = name
        self.variant_at = 0
        self.desk.show_di()

    def on_click(self, event: Click) -> None:
        """Walk to the stage that was clicked."""
        if event.y in range(1, 4) and event.screen_y <= 3:
            cell = max((self.size.width - 1) // len(STAGES), 4)
            self.walk_to(stepped(STAGES, (event.screen_x - 1) // cell, 0))

    # ------------------------------------------------------------ doing

    def action_enter(self) -> None:
        """Do the first thing this stage is for."""
        match self.here:
            case "send" if self.desk.model.opened is None:
                self.action_stream()
            case "chain" if not self.desk.model.chain:
                self._choose(1)
            case "DI" if self.desk.model.part is not None:
                self.desk.show_ready()
            case "send" | "amp" | "mics" | "returns":
                self.action_set()
            case "variants":
                self.desk.show_listening()
            case _:
                self._walk(1)

    def action_back(self) -> None:
        """Put a message away."""
        self.desk.put_away()

    def action_name(self) -> None:
        """Name a chain."""
        self.walk_to("chain")
        name_chain(self.desk)

    def action_run(self) -> None:
        """Run the plan, or show the card of the run."""
        self.desk.runs.key()

    def action_plan(self) -> None:
        """Show the plan."""
        self.desk.show_plan()

    def action_note_values(self) -> None:
        """Show what a delay is set to at the song's tempo."""
        self.desk.show_note_values()

    def action_write(self) -> None:
        """Write a chain down."""
        self.walk_to("chain")
        write_chain(self.desk)

    def action_set(self) -> None:
        """Show the chosen step of the set-up; from a stage without one the first that is not set."""
        here = steps.steps_of(self.here or "DI")
        left = [one.step for one in self.desk.model.standing() if one.state != "set"]
        self.desk.set_up(here[self.step_at] if here else (left or STEPS)[0])

    def action_click(self) -> None:
        """Send the test click."""
        self.desk.control.click()

    def action_stream(self) -> None:
        """Open the stream, or close it."""
        self.desk.control.toggle_stream()

    def action_wire(self) -> None:
        """Choose the wiring."""
        self.desk.wire()

    def action_evidence(self) -> None:
        """Show what the chosen variant's verdict rests on."""
        found = self.noted() or next(iter(self.desk.model.variants()), None)
        if found is not None:
            self.desk.show_evidence(found)

    def action_differ(self) -> None:
        """Show what is different between the variant under the cursor and another sound."""
        found = self.noted()
        if found is not None:
            self.desk.show_differences(found.part, variant_key(found.number))

    def action_reread(self) -> None:
        """Read DIs and devices again."""
        self.desk.runner_look(LookForDevices())
        for _, part in self.desk.model.parts():
            self.desk.runner_look(LookAtDi(part=part.name))

    # ------------------------------------------------------------ the levels

    def _arrange_levels(self) -> None:
        wiring = self.desk.model.stream_wiring
        if wiring is None:
            return
        levels = self.levels
        names: tuple[str, ...]
        channels: tuple[str, ...]
        if self.here == "send":
            names, channels = ("send",), (f"out {wiring.send_output}",)
        else:
            names = tuple(one.name for one in wiring.returns)
            channels = tuple(f"in {one.input}" for one in wiring.returns)
        levels.styles.height = min(len(names), max(self.size.height // 3, 2))
        levels.show(names, channels)

    def _advance(self, levels: Levels, status: Status) -> None:
        wiring = self.desk.model.stream_wiring
        if wiring is None:
            return
        if self.here == "send":
            levels.advance(of_send(status, wiring))
        else:
            levels.advance(of_returns(status, wiring))


def _moved(names: list[str], name: str, step: int) -> str:
    """Return the name before or after another one; the first where there is none yet."""
    if name not in names:
        return names[0]
    return stepped(names, names.index(name), step)
