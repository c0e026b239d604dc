"""Photos as they are kept: checked before they are decoded, made small, without their metadata."""

from io import BytesIO
from typing import BinaryIO

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from PIL import Image, ImageOps, UnidentifiedImageError

MOST_BYTES = 10 * 1024 * 1024
MOST_PIXELS = 24_000_000
LONGEST_SIDE = 8000
KEPT_SIDE = 2048
_FORMATS = (gettext_noop("JPEG"), gettext_noop("PNG"), gettext_noop("WEBP"))


class PhotoRefused(ValueError):
    """The file is no photo that can be kept; the message says why and what would be taken."""


def clean(file: BinaryIO) -> bytes:
    """The photo as a JPEG of at most 2048 pixels a side, turned upright, all metadata dropped.

    Args:
        file: JPEG, PNG or WebP by its content, whatever it is called; at most 10 MiB, 24
            megapixels and 8000 pixels a side.

    Raises:
        PhotoRefused: anything else. The size is read from the header, before anything is decoded.
    """
    file.seek(0, 2)
    if file.tell() > MOST_BYTES:
        raise PhotoRefused(_("The photo is larger than 10 MiB. Take a smaller one."))
    file.seek(0)
    try:
        with Image.open(file, formats=_FORMATS) as photo:
            width, height = photo.size
            if max(width, height) > LONGEST_SIDE or width * height > MOST_PIXELS:
                raise PhotoRefused(
                    _("The photo is over 24 megapixels or 8000 pixels a side. Take a smaller one.")
                )
            photo.draft(_("RGB"), (KEPT_SIDE, KEPT_SIDE))
            return _small(photo)
    except UnidentifiedImageError as unknown:
        raise PhotoRefused(_("This is not a photo. Choose a JPEG, PNG or WebP file.")) from unknown
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as huge:
        raise PhotoRefused(_("The photo is far too large. Take a smaller one.")) from huge
    except PhotoRefused:
        raise
    except Exception as broken:  # the readers of damaged files raise whatever comes
        raise PhotoRefused(_("The photo is damaged. Take it again.")) from broken


def thumbnail(data: bytes, *, side: int = 360) -> bytes:
    """A kept photo made small for paper; the same photo gives the same bytes.

    Args:
        data: a photo as clean() gave it.
        side: [pixels] of the longer side.

    Raises:
        PhotoRefused: it cannot be read any more.
    """
    try:
        with Image.open(BytesIO(data), formats=(_("JPEG"),)) as photo:
            photo.draft(_("RGB"), (side, side))
            small = photo.convert(_("RGB"))
    except OSError as damaged:
        raise PhotoRefused(_("The photo cannot be read any more.")) from damaged
    small.thumbnail((side, side))
    kept = BytesIO()
    small.save(kept, _("JPEG"), quality=70, optimize=True)
    return kept.getvalue()


def _small(photo: Image.Image) -> bytes:
    upright = ImageOps.exif_transpose(photo)
    upright.thumbnail((KEPT_SIDE, KEPT_SIDE))
    clear = upright.convert(_("RGBA"))
    # What is see-through becomes white, as on paper; pasting also leaves every kind of note behind.
    plain = Image.new(_("RGB"), clear.size, "white")
    plain.paste(clear, mask=clear.getchannel("A"))
    kept = BytesIO()
    plain.save(kept, _("JPEG"), quality=85, optimize=True)
    return kept.getvalue()
