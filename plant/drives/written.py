"""A drive in writing: figures in from JSON, the worked-out drive out as JSON or plain text."""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from math import isfinite, pi
from typing import Any

from plant.drives.doubt import Doubtful, odds_words
from plant.drives.errors import OutOfRange
from plant.drives.outcome import MARKS, DriveGiven, DriveWorkout, Used
from plant.translate import gettext as _

LONGEST_TEXT = 100_000  # characters; a drive takes about two thousand

_FLAGS = ("hard_start", "belt_tight", "driver_shines", "driven_shines")
_WORDS = (
    "section",
    "groove_system",
    "length_system",
    "load",
    "idler",
    "power_method",
    "tension_method",
    "force_form",
    "stage",
)
_MAPS = ("marks", "typed", "tools")


def given_from_json(text: str) -> DriveGiven:
    """A drive from JSON whose figures are SI numbers.

    Args:
        text: one object whose keys are fields of ``DriveGiven`` [m, rad, W, rad/s, N, Hz].

    Returns:
        [SI] the drive; fields left out or null are not known.

    Raises:
        OutOfRange: the text is no such object: not JSON, too long, an unknown or repeated key, a
            figure that is no number. The message says which.

    Source:
        RFC 8259 (JSON), without NaN and Infinity. The ranges of the figures are those of
        ``workout.work_out``.
    """
    return given_from_plain(plain_from_json(text))


def plain_from_json(text: str) -> dict[str, Any]:
    """The object that a JSON text holds, strictly read.

    Args:
        text: JSON of up to 100 000 characters.

    Returns:
        [-] the object as a dict.

    Raises:
        OutOfRange: not JSON, too long, too deep, no object, a key twice, or NaN or Infinity.

    Source:
        RFC 8259; section 4 leaves repeated keys open, here they are refused.
    """
    if len(text) > LONGEST_TEXT:
        raise OutOfRange(
            _("the text has {count} characters; accepted: up to {longest_text}").format(
                count=len(text), longest_text=LONGEST_TEXT
            )
        )
    try:
        found = json.loads(
            text, object_pairs_hook=_once, parse_constant=_no_constant, parse_float=_finite
        )
    except json.JSONDecodeError as wrong:
        raise OutOfRange(
            _("this is not JSON: {msg} in line {lineno}, column {colno}").format(
                msg=wrong.msg, lineno=wrong.lineno, colno=wrong.colno
            )
        ) from None
    except OutOfRange:
        raise
    except ValueError:
        raise OutOfRange(_("a number in this JSON has too many digits")) from None
    except RecursionError:
        raise OutOfRange(_("this JSON is nested too deep")) from None
    if not isinstance(found, dict):
        raise OutOfRange(_("the JSON must be one object: { ... }"))
    return found


def given_from_plain(plain: Mapping[str, Any]) -> DriveGiven:
    """A drive from a plain mapping whose figures are SI numbers.

    Args:
        plain: keys are fields of ``DriveGiven`` [m, rad, W, rad/s, N, Hz].

    Returns:
        [SI] the drive.

    Raises:
        OutOfRange: an unknown key, or a value of the wrong kind; the message says which.

    Source:
        The fields of ``DriveGiven``.
    """
    known = {field.name: field for field in fields(DriveGiven)}
    for key in plain:
        if key not in known:
            raise OutOfRange(
                _("unknown key {key}; accepted: {known}").format(
                    key=f"{str(key)[:40]!r}", known=", ".join(known)
                )
            )
    values: dict[str, Any] = {}
    for key, value in plain.items():
        # Null says "not known", which only those fields can be that are None from the start.
        if value is None:
            if known[key].default is not None:
                raise OutOfRange(
                    _("{key} cannot be null; leave it out to take the usual value").format(key=key)
                )
            continue
        values[key] = _checked(key, value)
    return DriveGiven(**values)


def to_plain(found: DriveWorkout) -> dict[str, Any]:
    """The worked-out drive as plain dicts, lists, text and numbers.

    Args:
        found: [SI] the drive.

    Returns:
        [SI] the same; a figure with its doubt is {"value": ..., "u": ...}.

    Raises:
        Nothing.

    Source:
        The fields of ``DriveWorkout``.
    """
    plain = _plain(found)
    assert isinstance(plain, dict)
    return plain


def to_json(found: DriveWorkout) -> str:
    """The worked-out drive as JSON.

    Args:
        found: [SI] the drive.

    Returns:
        [SI] JSON; "given" can be read again by ``given_from_json``.

    Raises:
        ValueError: a figure is not finite, which no worked-out drive holds.

    Source:
        RFC 8259.
    """
    return json.dumps(to_plain(found), ensure_ascii=False, indent=2, allow_nan=False)


def to_text(found: DriveWorkout) -> str:
    """The worked-out drive as plain text, the verdict first.

    Args:
        found: [SI] the drive.

    Returns:
        [units as printed] the text.

    Raises:
        Nothing.

    Source:
        The lines of the working.
    """
    parts = [f"Verdict: {found.verdict}", *(f"  {words}" for words in found.verdict_words)]
    if found.tension is not None:
        parts += ["", _("Tension"), *(f"  {words}" for words in _tension_words(found))]
    if found.wear is not None:
        parts += ["", _("Wear and slot"), *(f"  {words}" for words in _wear_words(found))]
    if found.power is not None:
        parts += ["", _("Power"), *(f"  {words}" for words in found.power.words)]
        if found.power.belts_needed is not None:
            parts.append(
                _("  Belts needed by {chosen}: {belts_needed}; fitted: {belts_fitted}").format(
                    chosen=found.power.chosen,
                    belts_needed=found.power.belts_needed,
                    belts_fitted=found.power.belts_fitted,
                )
            )
    parts += ["", _("Figures used"), *(f"  {used_words(used)}" for used in found.used)]
    parts += ["", _("Working")]
    for line in found.lines:
        doubt = f" ({line.doubt})" if line.doubt else ""
        parts += [
            f"  {line.symbol}: {line.name}",
            f"    {line.expression}",
            f"    {line.figures}  gives  {line.result}{doubt}",
            f"    {line.source}; {line.validity} ({line.trust})"
            + (f"; {line.warning}" if line.warning else ""),
        ]
    if found.missing:
        parts += ["", _("Missing")]
        for miss in found.missing:
            told = (
                _("{miss}: would settle {settles} (taken instead: {instead})")
                if miss.instead
                else _("{miss}: would settle {settles}")
            ).format(miss=miss.label, settles=miss.settles, instead=miss.instead)
            parts.append(f"  {told}")
    if found.warnings:
        parts += ["", _("Take care"), *(f"  {words}" for words in found.warnings)]
    parts += ["", _("Before you start"), *(f"  {words}" for words in found.cautions)]
    parts += ["", _("Version of the sums: {sums_version}").format(sums_version=found.sums_version)]
    return "\n".join(parts) + "\n"


# SI unit: printed unit, factor, decimals.
_PRINTED = {
    "m": ("mm", 1e3, 1),
    "rad": ("°", 180 / pi, 1),
    "W": ("kW", 1e-3, 2),
    "rad/s": ("rpm", 30 / pi, 0),
    "": ("", 1.0, 2),
}


def used_words(used: Used) -> str:
    """One figure that the sums started from, in words.

    Args:
        used: [SI unit named in it] the figure.

    Returns:
        [units as printed] "motor pulley, datum diameter: 80.0 mm ± 0.6 mm, measured".

    Raises:
        Nothing.

    Source:
        The doubt is twice the standard uncertainty (JCGM 100:2008, clause 6.2).
    """
    unit, factor, decimals = _PRINTED[used.unit]
    tail = unit if unit in ("", "°") else f" {unit}"
    doubt = ""
    if used.u > 0:
        doubt = f" ± {max(2 * used.u * factor, 10.0**-decimals):.{decimals}f}{tail}"
    mark = {"measured": "measured", "plate": "from plate", "guess": "guess"}[used.mark]
    note = f" ({used.note}, {used.trust})" if used.note else ""
    return f"{used.label}: {used.value * factor:.{decimals}f}{tail}{doubt}, {mark}{note}"


def _tension_words(found: DriveWorkout) -> list[str]:
    pulled = found.tension
    assert pulled is not None
    setting = pulled.this_belt or pulled.new_belt
    whose = _("This belt") if pulled.this_belt is not None else _("The new belt")
    words = list(pulled.words)
    words.append(
        _("{whose}: {low} to {high} N ({stage} belt)").format(
            whose=whose, low=f"{setting.low:.0f}", high=f"{setting.high:.0f}", stage=setting.stage
        )
    )
    if setting.force_low is not None and setting.force_high is not None:
        words.append(
            _(
                "Press one belt in by {deflection} mm at mid-span: {force_low} to {force_high} N"
            ).format(
                deflection=f"{setting.deflection * 1000.0:.1f}",
                force_low=f"{setting.force_low:.1f}",
                force_high=f"{setting.force_high:.1f}",
            )
        )
    words.append(
        _("Frequency of the plucked span: {frequency_low} to {frequency_high} Hz").format(
            frequency_low=f"{setting.frequency_low:.0f}",
            frequency_high=f"{setting.frequency_high:.0f}",
        )
    )
    if pulled.reading is not None:
        words.append(f"Read: {_with_doubt(pulled.reading.tension, 1.0, 0, 'N')}")
    return words


def _wear_words(found: DriveWorkout) -> list[str]:
    worn = found.wear
    assert worn is not None
    words: list[str] = []
    for seat in (worn.driver, worn.driven):
        words.append(
            _(
                "{seat}: drop {drop}, room under the belt {room}, odds of standing "
                "on the floor {odds_bottoms}"
            ).format(
                seat=seat.name.capitalize(),
                drop=_with_doubt(seat.drop, 1000.0, 1, "mm"),
                room=_with_doubt(seat.room, 1000.0, 1, "mm"),
                odds_bottoms=odds_words(seat.odds_bottoms),
            )
        )
    if worn.extra is not None:
        words.append(
            _("Extra centre distance: {extra}").format(
                extra=_with_doubt(worn.extra, 1000.0, 1, "mm")
            )
        )
    if worn.take_up is not None:
        words.append(
            _("Take-up left: {left}").format(left=_with_doubt(worn.take_up.left, 1000.0, 1, "mm"))
        )
    words.append(worn.first_words)
    return words


def _with_doubt(figure: Doubtful, factor: float, decimals: int, unit: str) -> str:
    value = f"{figure.value * factor:.{decimals}f}".replace("-", "−")
    return f"{value} ± {max(2 * figure.u * factor, 10.0**-decimals):.{decimals}f} {unit}"


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise OutOfRange(_("the key {key} stands there twice").format(key=f"{key[:40]!r}"))
        found[key] = value
    return found


def _no_constant(word: str) -> float:
    raise OutOfRange(_("{word} is not a number that is accepted").format(word=word))


def _finite(text: str) -> float:
    value = float(text)
    if not isfinite(value):
        raise OutOfRange(_("{text} is too large for a number").format(text=text[:20]))
    return value


def _checked(key: str, value: Any) -> Any:
    if key in _FLAGS:
        if not isinstance(value, bool):
            raise OutOfRange(
                _("{key} is {value}; accepted: true or false").format(key=key, value=_short(value))
            )
        return value
    if key in _WORDS:
        if not isinstance(value, str) or len(value) > 60:
            raise OutOfRange(
                _("{key} is {value}; accepted: a text of up to 60 characters").format(
                    key=key, value=_short(value)
                )
            )
        return value
    if key in _MAPS:
        return _texts(key, value)
    if key == "gears":
        return _gears(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise OutOfRange(
            _("{key} is {value}; accepted: a number").format(key=key, value=_short(value))
        )
    if key == "belts":
        if not isinstance(value, int):
            raise OutOfRange(
                _("{key} is {value}; accepted: a whole number").format(key=key, value=_short(value))
            )
        return value
    try:
        number = float(value)
    except OverflowError:
        raise OutOfRange(_("{key} is too large").format(key=key)) from None
    if not isfinite(number):
        raise OutOfRange(_("{key} is {value}; accepted: a number").format(key=key, value=value))
    return number


def _texts(key: str, value: Any) -> dict[str, str]:
    if not isinstance(value, dict) or not all(isinstance(one, str) for one in value.values()):
        raise OutOfRange(
            _("{key} is {value}; accepted: an object of texts").format(key=key, value=_short(value))
        )
    if key == "marks":
        for field, mark in value.items():
            if mark not in MARKS:
                raise OutOfRange(
                    _("the mark of {field} is {mark}; accepted: {marks}").format(
                        field=field, mark=f"{mark!r}", marks=", ".join(MARKS)
                    )
                )
    return dict(value)


def _gears(value: Any) -> tuple[tuple[int, int], ...]:
    said = _("gears: a list of pairs of whole numbers, as [[15, 60], [12, 84]]")
    if not isinstance(value, list | tuple) or len(value) > 10:
        raise OutOfRange(
            _("gears is {value}; accepted for {said}").format(value=_short(value), said=said)
        )
    for pair in value:
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise OutOfRange(
                _("a gear stage is {pair}; accepted for {said}").format(
                    pair=_short(pair), said=said
                )
            )
        if any(isinstance(teeth, bool) or not isinstance(teeth, int) for teeth in pair):
            raise OutOfRange(
                _("a gear stage is {pair}; accepted for {said}").format(
                    pair=_short(pair), said=said
                )
            )
    return tuple((pair[0], pair[1]) for pair in value)


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _plain(value: Any) -> Any:
    if isinstance(value, Doubtful):
        return {"value": value.value, "u": value.u}
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
