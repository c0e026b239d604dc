"""Many sheets as one file, each machine under its own bookmark."""

from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, TextStringObject

from reports.pdf.page import PRODUCER


@dataclass(frozen=True)
class Part:
    """One PDF of a batch: its bytes or its file, and the bookmark that leads to it."""

    bookmark: str
    content: bytes | Path


def merge(parts: Iterable[Part], *, title: str) -> bytes:
    """Puts the parts one behind the other.

    Parts that follow each other with the same bookmark share it, so a machine with two sheets
    has one entry. Pages stay as they were printed, with their own numbers.

    Args:
        parts: the PDFs in printing order.
        title: of the whole, for the document information.

    Returns:
        A PDF; the same parts give the same bytes.

    Raises:
        ValueError: there are no parts.
    """
    writer = PdfWriter()
    last = None
    for part in parts:
        source = BytesIO(part.content) if isinstance(part.content, bytes) else part.content
        first = len(writer.pages)
        writer.append(PdfReader(source), import_outline=False)
        if part.bookmark != last:
            writer.add_outline_item(title=part.bookmark, page_number=first)
            last = part.bookmark
    if last is None:
        raise ValueError("there is nothing to print: no parts were given")
    writer.metadata = {"/Title": title, "/Producer": PRODUCER}
    writer.root_object[NameObject("/Lang")] = TextStringObject("en-GB")
    writer.page_mode = "/UseOutlines"
    file = BytesIO()
    writer.write(file)
    return file.getvalue()


def page_count(content: bytes) -> int:
    """The number of pages of a PDF."""
    return len(PdfReader(BytesIO(content)).pages)
