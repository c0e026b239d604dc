"""The paper: A4 frame and margins, header, footer, page numbers, document information."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Printed:
    """When, by whom and from which record a sheet was printed; times are local, as text.

    at: "25 Nov 2026 07:31"; by: a name; as_at: "25 Nov 2026 07:30" when the facts are older than
    the print, else ""; record_number: of the sealed record, or ""; record_hash: 64 hex digits of
    that record, of which 16 are printed, or "".
    """

    at: str
    by: str
    as_at: str = ""
    record_number: str = ""
    record_hash: str = ""
