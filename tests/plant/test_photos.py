"""Photos: only real ones, of bounded size, and without what the camera wrote into them."""

import zlib
from io import BytesIO
from typing import Any

import pytest
from PIL import Image

from plant import photos


def file(size: tuple[int, int] = (60, 40), kind: str = "JPEG", **more: Any) -> BytesIO:
    made = BytesIO()
    Image.new("RGB", size, "navy").save(made, kind, **more)
    return made


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_kept_as_jpeg(kind: str) -> None:
    kept = Image.open(BytesIO(photos.clean(file(kind=kind))))

    assert (kept.format, kept.size) == ("JPEG", (60, 40))


def test_place_and_camera_are_dropped() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Invented Camera"
    exif.get_ifd(0x8825)[2] = (53.0, 28.0, 1.0)
    marked = file(exif=exif.tobytes(), comment=b"taken at home")
    assert b"Invented Camera" in marked.getvalue()

    kept = photos.clean(marked)

    assert not Image.open(BytesIO(kept)).getexif()
    for secret in (b"Invented Camera", b"taken at home", b"Exif"):
        assert secret not in kept


def test_turned_upright_before_the_note_of_it_is_dropped() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter

    assert Image.open(BytesIO(photos.clean(file(exif=exif.tobytes())))).size == (40, 60)


def test_made_small() -> None:
    kept = Image.open(BytesIO(photos.clean(file((4000, 3000)))))

    assert kept.size == (2048, 1536)


def test_see_through_becomes_white() -> None:
    made = BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(made, "PNG")

    kept = Image.open(BytesIO(photos.clean(made)))

    assert kept.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("size", [(8001, 10), (10, 8001), (6000, 4001)])
def test_too_many_pixels_are_refused_before_decoding(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    large = file(size, "PNG")
    monkeypatch.setattr(photos, "_small", lambda photo: pytest.fail("it was decoded"))

    with pytest.raises(photos.PhotoRefused, match="24 megapixels"):
        photos.clean(large)


def test_a_bomb_is_refused() -> None:
    # A PNG whose header claims 60 000 by 60 000 pixels.
    head = bytearray(file(kind="PNG").getvalue())
    head[16:24] = (60_000).to_bytes(4, "big") * 2
    head[29:33] = zlib.crc32(bytes(head[12:29])).to_bytes(4, "big")

    with pytest.raises(photos.PhotoRefused):
        photos.clean(BytesIO(bytes(head)))


def test_more_than_ten_mebibytes_are_refused() -> None:
    padded = BytesIO(file().getvalue() + b"\0" * photos.MOST_BYTES)

    with pytest.raises(photos.PhotoRefused, match="10 MiB"):
        photos.clean(padded)


@pytest.mark.parametrize(
    "content",
    [b"", b"<svg/>", b"GIF89a" + b"\0" * 40, file().getvalue()[:300], b"%!PS-Adobe-3.0 EPSF"],
)
def test_what_is_no_whole_photo_is_refused(content: bytes) -> None:
    with pytest.raises(photos.PhotoRefused):
        photos.clean(BytesIO(content))
