"""Forces, weights, sizes, speeds and heights as a person writes them in ``[threading]`` and ``[deck]``."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, TypeAlias

from pydantic import PlainValidator, WithJsonSchema

from interlock.showfile.quantities import amount_in, found, parse_path

_LB_KG = Fraction("0.45359237")
_G_MPS2 = Fraction("9.80665")
_N = r"[+-]?[0-9]+(\.[0-9]+)?"

_FORCES = {"N": Fraction(1), "lbf": _LB_KG * _G_MPS2, "ozf": _LB_KG * _G_MPS2 / 16}
_WEIGHTS = {"kg": Fraction(1), "lb": _LB_KG}
_SIZES_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": Fraction("25.4"),
    "ft": Fraction("304.8"),
    "m": Fraction(1000),
}
_SPEEDS = {"m/s": Fraction(1), "ft/s": Fraction("0.3048"), "ft/min": Fraction("0.00508")}
_HEIGHTS_MM = {"ft": Fraction("304.8"), "m": Fraction(1000), "in": Fraction("25.4"), "cm": Fraction(10)}


def parse_force(value: object) -> Fraction:
    """Newtons, from none to 1000."""
    force = amount_in(value, _FORCES, 'a force with its unit, as in "22 N", "5 lbf" or "16 ozf"')
    return _within(value, force, 0, 1000, "0 N to 1000 N")


def parse_weight(value: object) -> Fraction:
    """Kilograms, more than none."""
    weight = amount_in(value, _WEIGHTS, 'a weight with its unit, as in "125 lb" or "60 kg"')
    return _within(value, weight, Fraction(1, 1000), 10_000, "1 g to 10 t")


def parse_size(value: object) -> Fraction:
    """Millimetres, more than none."""
    size = amount_in(value, _SIZES_MM, 'a size with its unit, as in "52 in", "1.3 m" or "50 mm"')
    return _within(value, size, Fraction(1, 1000), 10_000, "a thousandth of a millimetre to 10 m")


def parse_speed(value: object) -> Fraction:
    """Metres a second, more than none."""
    speed = amount_in(value, _SPEEDS, 'a walking speed with its unit, as in "0.5 m/s" or "90 ft/min"')
    return _within(value, speed, Fraction(1, 100), 10, "0.01 m/s to 10 m/s")


def parse_height(value: object) -> Fraction:
    """Millimetres, down is negative."""
    height = amount_in(value, _HEIGHTS_MM, 'a height with its unit, as in "9 ft" or "-9 ft"')
    return _within(value, height, -100_000, 100_000, "at most 100 m up or down")


def parse_lift(value: object) -> tuple[Fraction, Fraction]:
    """(millimetres along the path, millimetres up) of a table with ``at`` and ``by``."""
    if not isinstance(value, dict) or value.keys() != {"at", "by"}:
        raise ValueError(f'found {found(value)}, expected a lift, as in {{ at = "4 ft", by = "9 ft" }}')
    return parse_path(value["at"]), parse_height(value["by"])


def _within(
    value: object, amount: Fraction, least: Fraction | int, most: Fraction | int, words: str
) -> Fraction:
    if not least <= amount <= most:
        raise ValueError(f"found {found(value)}, expected {words}")
    return amount


def _schema(units: dict[str, Fraction], example: str) -> WithJsonSchema:
    return WithJsonSchema(
        {"type": "string", "pattern": rf"^{_N} *({'|'.join(units)})$", "examples": [example]}
    )


Force: TypeAlias = Annotated[Fraction, PlainValidator(parse_force), _schema(_FORCES, "22 N")]
"""Newtons."""
Weight: TypeAlias = Annotated[Fraction, PlainValidator(parse_weight), _schema(_WEIGHTS, "125 lb")]
"""Kilograms."""
Size: TypeAlias = Annotated[Fraction, PlainValidator(parse_size), _schema(_SIZES_MM, "50 mm")]
"""Millimetres."""
Speed: TypeAlias = Annotated[Fraction, PlainValidator(parse_speed), _schema(_SPEEDS, "0.5 m/s")]
"""Metres a second."""
Height: TypeAlias = Annotated[Fraction, PlainValidator(parse_height), _schema(_HEIGHTS_MM, "9 ft")]
"""Millimetres, down is negative."""
_HEIGHT_SCHEMA = {"type": "string", "pattern": rf"^{_N} *({'|'.join(_HEIGHTS_MM)})$"}
Lift: TypeAlias = Annotated[
    Any,  # tuple[Fraction, Fraction]; a union would make pydantic try its own ways first
    PlainValidator(parse_lift),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {
                "at": {"type": "string", "pattern": rf"^{_N} *(ft|m)$"},
                "by": _HEIGHT_SCHEMA,
            },
            "required": ["at", "by"],
            "additionalProperties": False,
        }
    ),
]
"""(millimetres along the path, millimetres up)."""
