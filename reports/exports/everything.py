"""How every table is written into the archive of everything, and read back from it, to the letter.

Meanings, units and what stays out are said here in one place, for the program and for people.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db.models import Field, ForeignKey, JSONField, Model

from plant.csv_out import rows_to_csv, without_guard

APPS = ("plant", "maintenance", "reports")
# Tables that stay here, and why. What a person knows or holds to get in never goes out.
LEFT_OUT = {
    "plant.PhoneCode": "secrets of people: each sets a new code",
    "plant.OneTime": "secrets of people: each sets up codes anew",
    "plant.SpareCode": "secrets of people: each gets new ones",
    "plant.WayIn": "links to set a password: make new ones",
    "plant.SignedIn": "where people are signed in",
    "plant.SignInAttempt": "who is held back from signing in",
    "plant.Heartbeat": "the computer's own: when its parts last ran",
    "plant.ChainCheck": "the computer's own: what was last found of the chains",
    "plant.Chore": "the computer's own: its backups",
    "plant.LeftFile": "the computer's own: files that it is about to remove",
}
# Columns that stay here, by what they are after coming in.
SECRET: dict[str, dict[str, Any]] = {
    "plant.User": {"password": ""},
    "plant.Phone": {"link_hash": "", "key_hash": None},
    "plant.MessageChoice": {"proved_key": ""},
    "reports.Erasure": {"sign_in_mark": ""},
}
# What a number counts or measures, by the end of its column's name.
_BY_END = {
    "_tenths": "tenths of an hour, or of the count that the row names",
    "_u_m": "m, standard uncertainty",
    "u_m": "m, standard uncertainty",
    "u_n": "N, standard uncertainty",
    "_m": "m",
    "_n": "N",
    "_w": "W",
    "_rpm": "1/min",
    "_kg": "kg",
    "_rad": "rad",
    "minutes": "min",
    "_days": "days",
    "_months": "months",
    "hours_a_day": "h a day",
}
_BY_NAME = {
    "maintenance.BeltLife.hours_now": "h",
    "maintenance.BeltLife.hours_early": "h",
    "maintenance.BeltLife.hours_likely": "h",
    "maintenance.BeltLife.hours_late": "h",
    "maintenance.BeltLook.hours": "h",
    "maintenance.Completion.tenths": "tenths of an hour, or of the count that the line counts",
    "maintenance.CountRate.low": "tenths of the count a day",
    "maintenance.CountRate.likely": "tenths of the count a day",
    "maintenance.CountRate.high": "tenths of the count a day",
    "maintenance.UseRate.low": "tenths of an hour a day",
    "maintenance.UseRate.likely": "tenths of an hour a day",
    "maintenance.UseRate.high": "tenths of an hour a day",
    "maintenance.PlanStep.low": "SI, of what the step measures",
    "maintenance.PlanStep.high": "SI, of what the step measures",
    "maintenance.JobStep.low": "SI, of what the step measures",
    "maintenance.JobStep.high": "SI, of what the step measures",
    "maintenance.StepAnswer.value_si": "SI, of what the step measures",
    "maintenance.HourRate.amount": "money an hour, in the column currency",
    "maintenance.Cost.amount": "money each, in the column currency",
    "maintenance.Part.price": "money for one, in the currency of the depot",
    "maintenance.KeepListing.months": "months",
}
_WHOLE = "whole number"
_KINDS = {
    "BigAutoField": _WHOLE, "AutoField": _WHOLE, "IntegerField": _WHOLE,
    "PositiveIntegerField": _WHOLE, "PositiveSmallIntegerField": _WHOLE,
    "PositiveBigIntegerField": _WHOLE, "BigIntegerField": _WHOLE, "SmallIntegerField": _WHOLE,
    "FloatField": "number", "DecimalField": "number", "BooleanField": "yes or no",
    "DateField": "day", "DateTimeField": "moment with its offset", "TimeField": "time of day",
    "UUIDField": "identifier", "JSONField": "JSON", "CharField": "text", "TextField": "text",
    "SlugField": "text", "EmailField": "text", "FileField": "name of a file under files/",
    "GenericIPAddressField": "text",
}  # fmt: skip
_TEXTS = ("text", "name of a file under files/")
_READ: dict[str, Callable[[str], Any]] = {
    _WHOLE: int,
    "yes or no": {"yes": True, "no": False}.__getitem__,
    "day": date.fromisoformat,
    "moment with its offset": datetime.fromisoformat,
    "time of day": time.fromisoformat,
    "identifier": UUID,
    "JSON": json.loads,
}
KEY_HEADINGS = (
    "table", "column", "file", "meaning", "kind", "unit", "may be empty", "points to",
)  # fmt: skip
READ_ME = """\
Everything that this system holds, as it was at one moment.

tables/    one file a table: CSV, UTF-8 with a byte order mark, commas, CRLF, quoted after RFC 4180
key.csv    what each column means, its kind, its unit, and to which column it points
files/     photos and paper, under the names that the tables give them
checkpoints/  the signed checkpoints of the chains; erasures/  who was erased, by number
manifest.json  rows of each table, heads of the chains, SHA-256 of each file

To read a cell exactly: a text that begins with = + - @, a tab or a line break, also after
apostrophes, has one apostrophe put before it, so that no spreadsheet program takes it for a
formula. Take one apostrophe off such a text and it is as it was. Numbers have no such guard.
An empty cell is nothing at all where the key says that it may be empty, else an empty text. In a
column of texts that may be empty, a cell of apostrophes alone has one too many: one alone is an
empty text. Yes and no are written so; moments carry their offset from UTC (ISO 8601).

What is not inside: passwords, codes and sessions of people, keys of phones and of the site. After
manage.py import_all everybody needs a new sign-in. The code on each machine's label is inside, so
that labels go on working: whoever has this file can make such a label.
"""


def models() -> list[type[Model]]:
    """The tables that go out, in the order in which they lie in the archive."""
    return [
        model
        for model in apps.get_models()
        if model._meta.app_label in APPS and model._meta.label not in LEFT_OUT
    ]


def table_file(model: type[Model]) -> str:
    return f"tables/{model._meta.db_table}.csv"


def fields(model: type[Model]) -> list[Field[Any, Any]]:
    """The columns that go out."""
    secret = SECRET.get(model._meta.label, {})
    return [one for one in model._meta.concrete_fields if one.name not in secret]


def kind(field: Any) -> str:
    """Raises: KeyError: a kind of column that nobody has thought of yet."""
    while isinstance(field, ForeignKey):
        field = field.target_field
    return _KINDS[field.get_internal_type()]


def unit(field: Field[Any, Any]) -> str:
    """What a number is in; "" where it is a plain count or a key."""
    named = _BY_NAME.get(f"{field.model._meta.label}.{field.name}")
    if named or kind(field) not in (_WHOLE, "number"):
        return named or ""
    return next((unit for end, unit in _BY_END.items() if field.name.endswith(end)), "")


def key() -> Iterator[bytes]:
    """key.csv."""
    rows = (
        (
            model._meta.db_table,
            field.attname,
            table_file(model),
            _meaning(field),
            kind(field),
            unit(field),
            field.null,
            _points_to(field),
        )
        for model in models()
        for field in fields(model)
    )
    return rows_to_csv(KEY_HEADINGS, rows)


def _meaning(field: Any) -> str:
    words = f"{field.verbose_name}. {field.help_text}".strip()
    if field.choices:
        words += " One of: " + "; ".join(f"{value} = {label}" for value, label in field.flatchoices)
    return words


def _points_to(field: Any) -> str:
    if not isinstance(field, ForeignKey):
        return ""
    to = field.target_field
    return f"{to.model._meta.db_table}.{to.column}"


def table(model: type[Model], rows: Iterable[tuple[Any, ...]]) -> Iterator[bytes]:
    """One table as CSV.

    Args:
        rows: the values of its ``fields``, each row in their order.
    """
    columns = fields(model)
    writers = [_writer(one) for one in columns]
    cells = ([write(value) for write, value in zip(writers, row, strict=True)] for row in rows)
    return rows_to_csv([one.attname for one in columns], cells)


def _writer(field: Any) -> Callable[[Any], object]:
    """How a value is written; the guard against formulas is put on by whoever writes the cell."""
    if isinstance(field, JSONField):
        return lambda value: None if value is None else json.dumps(value, ensure_ascii=False)
    if kind(field) in _TEXTS and field.null:
        return _text_or_nothing
    if kind(field) in _TEXTS:
        return str
    return lambda value: value


def _text_or_nothing(value: str | None) -> str | None:
    return value if value is None or value.strip("'") else f"'{value}"


def _reader(field: Any) -> Callable[[str], Any]:
    """The way back from a cell.

    Raises, when called:
        ValueError, KeyError: the cell holds no such value.
    """
    what = kind(field)
    if what in _TEXTS:
        if not field.null:
            return without_guard
        return lambda cell: _nothing_or_text(without_guard(cell))
    number = Decimal if field.get_internal_type() == "DecimalField" else float
    read = _READ.get(what, number)
    if what == "JSON":
        return lambda cell: None if not cell else read(without_guard(cell))
    return lambda cell: None if not cell else read(cell)


def _nothing_or_text(text: str) -> str | None:
    if not text:
        return None
    return text if text.strip("'") else text[1:]


def read_table(archive: zipfile.ZipFile, model: type[Model]) -> Iterator[Model]:
    """The rows of a table of the archive, as objects that are not saved.

    Raises:
        ValueError: a column that this program does not know, or a cell that it cannot read; it
            says where.
    """
    known = {one.attname: one for one in fields(model)}
    csv.field_size_limit(1 << 30)
    with archive.open(table_file(model)) as raw:
        lines = csv.reader(io.TextIOWrapper(raw, "utf-8-sig", newline=""), strict=True)
        headings = next(lines)
        if odd := [name for name in headings if name not in known]:
            raise ValueError(f"{model._meta.db_table} has a column {odd[0]} that is not known here")
        readers = [_reader(known[name]) for name in headings]
        given = {**SECRET.get(model._meta.label, {})}
        for number, cells in enumerate(lines, start=2):
            try:
                values = [read(cell) for read, cell in zip(readers, cells, strict=True)]
            except (ValueError, KeyError, ArithmeticError) as wrong:
                raise ValueError(f"{table_file(model)}, row {number}: {wrong}") from wrong
            yield model(**dict(zip(headings, values, strict=True)), **given)
