"""A photo made ready for the sheet: upright, small, and with nothing in it but the picture.

A phone writes into a photo where and when it was taken, and by whom. None of that leaves the building.
"""

from __future__ import annotations

import io
import stat
import warnings
from os import fstat
from pathlib import Path
from typing import IO

from PIL import Image, ImageOps, UnidentifiedImageError

from audio.files.platform import open_at_once
from audio.vocab.errors import UseError
from audio.vocab.requests import ReadPhoto
from audio.vocab.sheet import LONGEST_SIDE, PhotoShown

LARGEST_BYTES = 64_000_000
"""Of a photo's file; cameras write a fourth of it."""

MOST_PIXELS = 120_000_000
"""Of a photo; the largest cameras have that many. A small file may claim any number."""

_KINDS = ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP")
_READABLE = "save it as JPEG or PNG"
_QUALITY = 82


def read_photo(asked: ReadPhoto) -> PhotoShown:
    """Return a photo as JPEG.

    Parameters
    ----------
    asked
        Its file.

    Returns
    -------
    PhotoShown
        Turned as its camera was held, `LONGEST_SIDE` at most, without what the camera wrote beside it.

    Raises
    ------
    UseError
        If it is no picture of a kind that is read, too large, or broken.
    """
    path = Path(asked.path)
    with open_at_once(path) as file:
        _refuse_what_is_no_photo(path, file)
        # Of a large picture Pillow warns, and then reads it; here it is refused before it is read.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _shown(path, file)


def _refuse_what_is_no_photo(path: Path, file: IO[bytes]) -> None:
    about = fstat(file.fileno())
    if not stat.S_ISREG(about.st_mode):
        raise UseError(f"{path.name} is a device or a pipe, no photo")
    if about.st_size > LARGEST_BYTES:
        raise UseError(
            f"{path.name} is larger than a photo ({about.st_size // 1_000_000} MB); make it smaller"
        )


def _shown(path: Path, file: IO[bytes]) -> PhotoShown:
    try:
        with Image.open(file, formats=_KINDS) as found:
            if found.width * found.height > MOST_PIXELS:
                raise UseError(
                    f"{path.name} is larger than a photo ({found.width} × {found.height} pixels);"
                    " make it smaller"
                )
            found.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            found.load()
            return _told(_plain(found))
    except (UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise UseError(f"{path.name} is no picture that can be read; {_READABLE}") from error
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError) as error:
        raise UseError(
            f"{path.name} is broken and cannot be read; copy it again, or {_READABLE}"
        ) from error


def _plain(found: Image.Image) -> Image.Image:
    """Return the picture alone: upright, on white where it is transparent, no larger than it is shown."""
    upright = ImageOps.exif_transpose(found)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    coloured = upright.convert("RGBA" if upright.has_transparency_data else "RGB")
    # A new picture has no comment, no profile and no position of a phone to hand on.
    plain = Image.new("RGB", coloured.size, "white")
    plain.paste(coloured, mask=coloured if coloured.mode == "RGBA" else None)
    return plain


def _told(plain: Image.Image) -> PhotoShown:
    jpeg = io.BytesIO()
    plain.save(jpeg, "JPEG", quality=_QUALITY, optimize=True)
    return PhotoShown(jpeg=jpeg.getvalue(), width=plain.width, height=plain.height)
