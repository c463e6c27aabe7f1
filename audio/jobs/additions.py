"""What the command line asks to add to a session, and what of it does not go together."""

from __future__ import annotations

from pathlib import Path

import msgspec

TEMPO_TWICE = "a tempo is given twice, with --bpm and with --tempo; leave one of them out"


class Addition(msgspec.Struct, frozen=True, kw_only=True):
    """What to add, and where it belongs: exactly one of the three sound files, or a tempo file alone."""

    di: Path | None = None
    """An edited DI."""
    original: Path | None = None
    """A first recording of the amp."""
    backing: Path | None = None
    """A song's backing track."""
    tempo: Path | None = None
    """A tempo file: of the new song, or alone of one that is there."""
    part: str | None = None
    """Name of the DI's part, or the part an original belongs to."""
    song: str | None = None
    """A song that is there, for a new part, a backing track or a tempo file."""
    new_song: str | None = None
    """Name of a song that is not there yet and comes with a DI."""
    bpm: float | None = None
    """Tempo of the new song, quarter notes a minute."""
    metre: str | None = None
    """Metre of the new song, or of one that gets a tempo file that tells none."""
    name: str | None = None
    """Which microphone or mix an original is."""
    channel: int = 1
    """Channel of a DI or an original, from 1."""

    def problem(self) -> str | None:
        """Return what does not go together, with the way out; None if all of it does."""
        sounds = {"di": self.di, "original": self.original, "backing": self.backing}
        file = next((name for name, path in sounds.items() if path is not None), "tempo")
        alone = file == "tempo" and self.tempo is not None
        leave_it = f"leave it out with --{file}"
        faults = (
            (
                file != "original" and self.name is not None,
                f"--name says which microphone an original is; {leave_it}",
            ),
            (
                file == "tempo" and self.tempo is None,
                "there is nothing to add; name a file with --di, --original, --backing or --tempo",
            ),
            (
                self.tempo is not None and self.bpm is not None,
                TEMPO_TWICE,
            ),
            (
                self.tempo is not None and not alone and self.new_song is None,
                "--tempo belongs to a new song or stands alone; name it with --new-song, or leave --di out",
            ),
            (
                file == "original" and self.part is None,
                "an original belongs to a part; name it with --part",
            ),
            (
                file == "original" and self.song is not None,
                f"--song belongs to a new DI or a backing track; {leave_it}",
            ),
            (
                file in ("backing", "tempo") and self.part is not None,
                f"--part belongs to a DI or an original; {leave_it}, and name the song with --song",
            ),
            (
                file == "backing" and self.channel != 1,
                f"a backing track keeps all its channels, so --channel means nothing; {leave_it}",
            ),
            (
                file == "tempo" and self.channel != 1,
                f"--channel belongs to a DI or an original; {leave_it}",
            ),
            (
                file != "di" and self.new_song is not None,
                f"--new-song begins a song with a DI; {leave_it}",
            ),
            (
                self.new_song is None
                and (self.bpm is not None or (self.metre is not None and not alone)),
                "--bpm and --metre belong to a new song; name it with --new-song, or edit session.yaml",
            ),
        )
        return next((text for wrong, text in faults if wrong), None)
