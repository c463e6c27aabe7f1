"""An edited DI held against the raw one, from two files."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from audio.files.source import SourceFile
from audio.measure.edit_gain import edit_gain
from audio.vocab.errors import UseError
from audio.vocab.looped import EditGain
from audio.vocab.requests import CompareEdit
from audio.work.comparing import whole_channel


def compare_edit(asked: CompareEdit) -> EditGain:
    """Read both files and compare their notes; `UseError` if one cannot be read or the rates differ."""
    with (
        closing(SourceFile(Path(asked.raw_path))) as raw,
        closing(SourceFile(Path(asked.path))) as edited,
    ):
        if raw.rate != edited.rate:
            raise UseError(
                f"{raw.path} has {raw.rate} Hz and {edited.path} {edited.rate} Hz;"
                " convert one to the rate of the other first"
            )
        return edit_gain(
            whole_channel(raw, asked.raw_channel),
            whole_channel(edited, asked.channel),
            rate=raw.rate,
        )
