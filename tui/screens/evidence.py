"""What a verdict rests on: both clicks, where the pass was placed, what was counted, what came back."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll

from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames
from audio.vocab.variant import Variant, VariantFile
from tui.present.glyphs import cut
from tui.present.looks import ACCENT, FAINT, STRONG, VERDICT_LOOKS, folded, paragraph, text
from tui.present.plain import level
from tui.present.top import key_line
from tui.screens.face import Face, bindings
from tui.stages.variants import told
from tui.widgets.lines import Lines

KEYS = (("back", ""), ("choose_up+choose_down", "read on"), ("go", ""), ("keys", ""))


_ALIGNED = {"di": "the DI", "live": "the moment it was played", "original": "the original"}


class EvidenceScreen(Face):
    """One variant's evidence."""

    ACTIONS = (
        "back",
        "evidence",
        "choose_up",
        "choose_down",
        "go",
        "stop",
        "keys",
        "palette",
        "quit",
    )
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    EvidenceScreen { layout: vertical; }
    EvidenceScreen #head { height: 2; }
    EvidenceScreen #scroll { height: 1fr; scrollbar-size: 1 1; }
    EvidenceScreen #keys { height: 2; }
    """

    def __init__(self, variant: Variant) -> None:
        super().__init__()
        self._variant = variant

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        with VerticalScroll(id="scroll", can_focus=False):
            yield Lines(id="evidence")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    def draw_body(self) -> None:
        """Draw the evidence."""
        variant, columns = self._variant, self.size.width
        verdict = (f" {variant.verdict.upper()} ", VERDICT_LOOKS[variant.verdict])
        head = text(verdict, f"  {variant.part} {variant.number:03d} through {variant.chain.name}")
        self.lines("head").put([head, text()])
        self.lines("evidence").put(evidence(variant, columns - 2))
        keys = key_line(KEYS, self.desk.settings, columns, main="back")
        self.lines("keys").put(self.foot(keys))

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()

    def action_evidence(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_choose_up(self) -> None:
        """Read back."""
        self.query_one("#scroll", VerticalScroll).scroll_up(animate=False)

    def action_choose_down(self) -> None:
        """Read on."""
        self.query_one("#scroll", VerticalScroll).scroll_down(animate=False)


def evidence(variant: Variant, columns: int) -> list[Text]:
    """Return everything a verdict rests on, in lines of at most so many cells."""
    shown = [
        *_findings(variant, columns),
        *_placement(variant, columns),
        *_clicks(variant),
        *_counters(variant),
        *_files(variant),
    ]
    return [part for line in shown for part in folded(line, columns)]


def _title(words: str) -> list[Text]:
    return [text(), text((f" {words}", ACCENT))]


def _findings(variant: Variant, columns: int) -> list[Text]:
    if not variant.findings:
        return [text((" nothing to say against it", STRONG))]
    shown: list[Text] = []
    for one in variant.findings:
        shown += paragraph(f"{one.weight.upper():4}  {told(one)}", columns, STRONG)
        if one.advice:
            shown += paragraph(one.advice, columns, FAINT, indent=7)
    return shown


def _placement(variant: Variant, columns: int) -> list[Text]:
    rate = variant.sample_rate
    if variant.delay_frames is None:
        return [*_title("placement"), text((" not placed: no click was heard", FAINT))]
    sure = variant.plus_minus_frames or 0.0
    d = variant.delay_frames
    kept = ", as in the pass before" if abs(variant.residual_frames or 0.0) > 0.5 else ""
    words = (
        f"round trip {d:.2f} ± {sure:.2f} frames ({ms_from_frames(d, rate=rate):.2f} ms), by"
        f" {variant.delay_source}; {variant.shift_frames} whole frames removed,"
        f" {with_sign(variant.residual_frames or 0.0)} left in the files{kept}"
    )
    adds = variant.chain_adds_frames
    if adds is not None:
        words += f"; this chain adds {ms_from_frames(adds, rate=rate):.2f} ms to the bare path"
    return [
        *_title("placement"),
        *paragraph(
            f"{words}; aligned to {_ALIGNED.get(variant.align_to, variant.align_to)}", columns
        ),
    ]


def _clicks(variant: Variant) -> list[Text]:
    names = [one.return_name for one in variant.files]
    head = f" {'':<10} {'opening':>14}  {'closing':>14}  {'moved':>7}  {'over noise':>10}  polarity"
    title = _title("clicks, by their peaks: later than the first arrival, and finer")
    shown = [*title, text((head, FAINT))]
    closing: list[ClickReading | None] = list(variant.closing_click)
    closing += [None] * (len(names) - len(closing))
    for name, first, last in zip(names, variant.opening_click, closing, strict=False):
        shown.append(_click(name, first, last))
    return shown


def _click(name: str, first: ClickReading, last: ClickReading | None) -> Text:
    over = "−" if first.snr_db is None else f"{first.snr_db:.0f} dB"
    before, after = first.peak_delay_frames, last.peak_delay_frames if last else None
    moved = "−"
    if before is not None and after is not None:
        moved = with_sign(round(after, 2) - round(before, 2))
    return text(
        f" {cut(name, 10)} ",
        f"{_peak(first):>14}",
        f"  {_peak(last) if last else 'none':>14}",
        (f"  {moved:>7}", STRONG),
        (f"  {over:>10}  {first.polarity}", FAINT),
    )


def _peak(one: ClickReading) -> str:
    if one.peak_delay_frames is None:
        return one.reason or "unclear"
    return f"{one.peak_delay_frames:.2f} ± {one.peak_plus_minus_frames or 0.0:.2f}"


def with_sign(number: float) -> str:
    """Return a number with its sign, true minus, and no minus before zero."""
    return f"{round(number, 2) + 0.0:+.2f}".replace("-", "\N{MINUS SIGN}")


def _counters(variant: Variant) -> list[Text]:
    lost = "no frame lost, none in doubt" if not variant.dropouts else ""
    shown = [*_title("counters"), *([text(f" {lost}")] if lost else [])]
    for one in variant.dropouts:
        at = one.at_frame / variant.sample_rate
        many = "" if one.frames is None else f", {one.frames} frames"
        shown.append(text(f" {one.kind} at {at:.3f} s{many}"))
    ppm = variant.clock_ppm
    clock = (
        "too short to tell"
        if ppm is None
        else f"{ppm:+.0f} ppm against the system's".replace("-", "−")
    )
    return [*shown, text(f" clock: {clock}")]


def _files(variant: Variant) -> list[Text]:
    shown = _title("files")
    for one in variant.files:
        loud = "     −" if one.loudness_lufs is None else level(one.loudness_lufs)
        clipped = f"   clipped {one.clipped_runs} times" if one.clipped_runs else ""
        words = f" {cut(one.return_name, 10)} peak {level(one.peak_dbfs)} dBFS {loud} LUFS{clipped}"
        shown += [text(words + _noise(one)), text((f"   {one.path.rpartition('/')[2]}", FAINT))]
    folder = variant.files[0].path.rpartition("/")[0] if variant.files else ""
    return [*shown, text((f" in {folder}/", FAINT))]


def _noise(one: VariantFile) -> str:
    if one.noise_dbfs is None:
        return ""
    hum = "" if one.hum_dbfs is None else f", {one.hum_hz} Hz {level(one.hum_dbfs).strip()}"
    return f"   noise {level(one.noise_dbfs).strip()}{hum} dBFS"
