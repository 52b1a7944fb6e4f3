"""Units of length and speed with their exact factors, and the two measuring systems a class may choose."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

G_N = Fraction("9.80665")
"""Standard acceleration of free fall in m/s², exact (NIST SP 330; 3rd CGPM, 1901)."""


@dataclass(frozen=True)
class Unit:
    """A unit of length; `metres` is its exact size (NIST SP 811, appendix B)."""

    slug: str
    symbol: str
    metres: Fraction


INCH = Unit("in", "in", Fraction("0.0254"))
FOOT = Unit("ft", "ft", Fraction("0.3048"))
MILLIMETRE = Unit("mm", "mm", Fraction(1, 1000))
CENTIMETRE = Unit("cm", "cm", Fraction(1, 100))
METRE = Unit("m", "m", Fraction(1))

UNITS: dict[str, Unit] = {unit.slug: unit for unit in (INCH, FOOT, MILLIMETRE, CENTIMETRE, METRE)}
IMPERIAL = (FOOT, INCH)
DECIMAL = (METRE, CENTIMETRE, MILLIMETRE)


def convert(value: Fraction, from_unit: Unit, to_unit: Unit) -> Fraction:
    """A length in another unit, exactly (an inch is 2.54 cm, so nothing is rounded)."""
    if from_unit == to_unit:
        return value
    return value * from_unit.metres / to_unit.metres


def area_m2(value: Fraction, unit: Unit) -> Fraction:
    """An area given in squares of `unit`, in square metres, exactly."""
    return value * unit.metres**2


@dataclass(frozen=True)
class UnitSystem:
    """What a class measures in: `length` for the device, `height` for the drop and, a second, for speed."""

    slug: str
    name: StrOrPromise
    length: Unit
    height: Unit
    area_label: str
    speed_label: str


US = UnitSystem("us", _("inches and feet"), INCH, FOOT, "in²", "ft/s")
METRIC = UnitSystem("metric", _("metric"), CENTIMETRE, METRE, "cm²", "m/s")

SYSTEMS: dict[str, UnitSystem] = {system.slug: system for system in (US, METRIC)}


def speed_m_s(value: Fraction, system: UnitSystem) -> Fraction:
    """A speed in the system's own unit (ft/s or m/s), in metres a second, exactly."""
    return value * system.height.metres


def convert_speed(value: Fraction, from_system: UnitSystem, to_system: UnitSystem) -> Fraction:
    """A speed of one system in the other's unit, exactly."""
    return speed_m_s(value, from_system) / to_system.height.metres
