"""Photos on the recall sheet: from inside the session, upright, with nothing in them but the picture."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image
from session_cases import session_with_a_part

from audio.session.opened import Session
from audio.session.photos import find_photo
from audio.vocab.errors import UseError
from audio.vocab.requests import ReadPhoto
from audio.vocab.sheet import LONGEST_SIDE, PhotoShown
from audio.work.photos import LARGEST_BYTES, read_photo

PART = "rhythm-left"


def shown(path: Path) -> tuple[PhotoShown, Image.Image]:
    told = read_photo(ReadPhoto(path=str(path)))
    return told, Image.open(io.BytesIO(told.jpeg))


def with_exif(path: Path, *, orientation: int = 1) -> Path:
    """Write a photo of a phone: where and with what it was taken stands in it, and a comment."""
    image = Image.new("RGB", (40, 20), "white")
    image.paste("red", (0, 0, 10, 20))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "maker of phones"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 26.5)  # GPSLatitude
    image.save(path, exif=exif, comment=b"behind the studio")
    return path


def test_where_it_was_taken_does_not_leave_the_session(tmp_path: Path) -> None:
    path = with_exif(tmp_path / "floor.jpg")
    with Image.open(path) as taken:
        assert dict(taken.getexif().get_ifd(0x8825)) != {}
    told, image = shown(path)
    assert dict(image.getexif()) == {}
    assert dict(image.getexif().get_ifd(0x8825)) == {}
    assert not {"exif", "comment", "xmp", "icc_profile", "photoshop"} & image.info.keys()
    for word in (b"Exif", b"maker of phones", b"behind the studio"):
        assert word not in told.jpeg


@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [
        (1, (40, 20), (2, 10)),
        (3, (40, 20), (37, 10)),
        (6, (20, 40), (10, 2)),
        (8, (20, 40), (10, 37)),
    ],
)
def test_a_photo_stands_upright(
    tmp_path: Path, orientation: int, size: tuple[int, int], red_at: tuple[int, int]
) -> None:
    """Orientations after Exif 2.3, table 6 (from memory): 6 is turned right, 8 left, 3 upside down."""
    told, image = shown(with_exif(tmp_path / "floor.jpg", orientation=orientation))
    assert (told.width, told.height) == image.size == size
    red, green, _ = image.convert("RGB").getpixel(red_at)  # type: ignore[misc]
    assert red > 200
    assert green < 100


def test_a_large_photo_is_made_small_and_a_small_one_stays(tmp_path: Path) -> None:
    Image.new("RGB", (3000, 1000), "grey").save(tmp_path / "large.png")
    Image.new("RGB", (30, 10), "grey").save(tmp_path / "small.png")
    large, small = shown(tmp_path / "large.png")[0], shown(tmp_path / "small.png")[0]
    assert (large.width, large.height) == (LONGEST_SIDE, round(LONGEST_SIDE / 3))
    assert (small.width, small.height) == (30, 10)


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "1", "CMYK"])
def test_any_kind_of_colour_becomes_a_plain_picture(tmp_path: Path, mode: str) -> None:
    ending = "tiff" if mode == "CMYK" else "png"
    Image.new(mode, (8, 8)).save(tmp_path / f"a.{ending}")
    assert shown(tmp_path / f"a.{ending}")[1].mode == "RGB"


def test_what_is_transparent_is_white(tmp_path: Path) -> None:
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(tmp_path / "a.png")
    assert min(shown(tmp_path / "a.png")[1].getpixel((4, 4))) > 250  # type: ignore[arg-type]


def bomb(path: Path, side: int) -> Path:
    """Write a PNG whose head claims any number of pixels; a few bytes long."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        whole = kind + data
        return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    packed = zlib.compress(bytes(1000))
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )
    return path


@pytest.mark.parametrize("side", [11_000, 13_000, 100_000])
def test_a_bomb_is_refused_before_it_is_read(tmp_path: Path, side: int) -> None:
    with pytest.raises(UseError, match=r"larger than a photo|no picture|broken"):
        shown(bomb(tmp_path / "bomb.png", side))


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "no picture"),
        (b"%PDF-1.7 no picture at all", "no picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "no picture"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_sentence(
    tmp_path: Path, content: bytes, match: str
) -> None:
    (tmp_path / "a.jpg").write_bytes(content)
    with pytest.raises(UseError, match=match):
        shown(tmp_path / "a.jpg")


def test_half_a_photo_is_refused(tmp_path: Path) -> None:
    Image.effect_noise((200, 200), 60).save(tmp_path / "a.jpg")
    (tmp_path / "a.jpg").write_bytes((tmp_path / "a.jpg").read_bytes()[:3000])
    with pytest.raises(UseError, match="broken"):
        shown(tmp_path / "a.jpg")


def test_a_file_too_large_for_a_photo_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "a.jpg").open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    with pytest.raises(UseError, match="64 MB"):
        shown(tmp_path / "a.jpg")


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.jpg")
    with pytest.raises(UseError, match="a pipe"):
        shown(tmp_path / "a.jpg")


# ------------------------------------------------------------------ where it lies


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return session_with_a_part(tmp_path, part=PART)


@pytest.mark.parametrize("room", [".", "photos", "chains", f"passes/{PART}/003"])
def test_a_photo_is_found_in_the_session(session: Session, room: str) -> None:
    folder = session.folder / room
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "floor.jpg").touch()
    found = find_photo(session, PART, 3, "floor.jpg")
    assert found == (folder / "floor.jpg").resolve()


def test_a_photo_that_lies_elsewhere_is_not_looked_for(session: Session, tmp_path: Path) -> None:
    (tmp_path / "floor.jpg").touch()
    with pytest.raises(UseError, match="not in the session"):
        find_photo(session, PART, 3, "floor.jpg")


@pytest.mark.parametrize(
    "name", ["../floor.jpg", "/etc/hostname", "a\\b.jpg", "", ".", "..", "a\x00b"]
)
def test_a_name_never_leads_out(session: Session, tmp_path: Path, name: str) -> None:
    (tmp_path / "floor.jpg").touch()
    with pytest.raises(UseError):
        find_photo(session, PART, 3, name)


def test_a_link_out_of_the_session_is_refused(session: Session, tmp_path: Path) -> None:
    (tmp_path / "private.jpg").touch()
    (session.folder / "floor.jpg").symlink_to(tmp_path / "private.jpg")
    with pytest.raises(UseError, match="leads out of the session"):
        find_photo(session, PART, 3, "floor.jpg")


def test_a_folder_that_is_a_link_out_is_refused(session: Session, tmp_path: Path) -> None:
    (tmp_path / "private").mkdir()
    (tmp_path / "private/floor.jpg").touch()
    (session.folder / "photos").symlink_to(tmp_path / "private")
    with pytest.raises(UseError, match="leads out of the session"):
        find_photo(session, PART, 3, "floor.jpg")


def test_a_link_within_the_session_is_followed(session: Session) -> None:
    (session.folder / "photos").mkdir()
    (session.folder / "photos/IMG_1.jpg").touch()
    (session.folder / "floor.jpg").symlink_to("photos/IMG_1.jpg")
    found = find_photo(session, PART, 3, "floor.jpg")
    assert found == (session.folder / "photos/IMG_1.jpg").resolve()
