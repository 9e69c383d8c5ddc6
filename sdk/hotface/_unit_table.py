"""The rows of the unit table and the spellings that stand for them; functions are in ``units``.

Factors come from the definitions UCUM itself uses: the international inch (0.0254 m exactly) and
avoirdupois pound (0.45359237 kg exactly), the international-table British thermal unit
(1055.05585262 J), the thermochemical calorie (4.184 J exactly) and standard gravity (9.80665 m/s2).
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

__all__ = ["ALIASES", "UNITS", "Unit"]

Kind = Literal["plain", "point", "difference", "either"]


class Unit(NamedTuple):
    """One unit: ``si = value * factor + offset``.

    ``kind`` tells temperature points (``point``: ``Cel``, ``[degF]``) from differences; ``either``
    marks ``K`` and ``[degR]``, which serve for both. ``pint`` is the name the SDK hands to pint.
    """

    code: str
    factor: float
    offset: float
    dimension: str
    kind: Kind
    pint: str


_INCH = 0.0254
_FOOT = 12 * _INCH
_POUND = 0.45359237
_BTU = 1055.05585262
_CAL = 4.184
_RANKINE = 5 / 9
_GALLON = 231 * _INCH**3
_PSI = _POUND * 9.80665 / _INCH**2
_HOUR = 3600.0


def _table() -> dict[str, Unit]:
    plain: list[tuple[str, float, str, str]] = [
        ("1", 1, "1", "dimensionless"),
        ("%", 1e-2, "1", "percent"),
        ("[ppm]", 1e-6, "1", "ppm"),
        ("mm/m", 1e-3, "1", "millimeter / meter"),
        ("g/g", 1, "1", "dimensionless"),
        ("kg/kg", 1, "1", "dimensionless"),
        ("kg", 1, "mass", "kilogram"),
        ("g", 1e-3, "mass", "gram"),
        ("t", 1e3, "mass", "metric_ton"),
        ("[lb_av]", _POUND, "mass", "pound"),
        ("[oz_av]", _POUND / 16, "mass", "ounce"),
        ("m3", 1, "volume", "meter ** 3"),
        ("dm3", 1e-3, "volume", "decimeter ** 3"),
        ("cm3", 1e-6, "volume", "centimeter ** 3"),
        ("L", 1e-3, "volume", "liter"),
        ("l", 1e-3, "volume", "liter"),
        ("mL", 1e-6, "volume", "milliliter"),
        ("[cft_i]", _FOOT**3, "volume", "foot ** 3"),
        ("[cin_i]", _INCH**3, "volume", "inch ** 3"),
        ("[gal_us]", _GALLON, "volume", "gallon"),
        ("[qt_us]", _GALLON / 4, "volume", "quart"),
        ("m", 1, "length", "meter"),
        ("cm", 1e-2, "length", "centimeter"),
        ("mm", 1e-3, "length", "millimeter"),
        ("um", 1e-6, "length", "micrometer"),
        ("nm", 1e-9, "length", "nanometer"),
        ("[in_i]", _INCH, "length", "inch"),
        ("[ft_i]", _FOOT, "length", "foot"),
        ("[mil_i]", _INCH / 1e3, "length", "thou"),
        ("s", 1, "time", "second"),
        ("min", 60, "time", "minute"),
        ("h", _HOUR, "time", "hour"),
        ("d", 24 * _HOUR, "time", "day"),
        ("kg/m3", 1, "density", "kilogram / meter ** 3"),
        ("g/cm3", 1e3, "density", "gram / centimeter ** 3"),
        ("kg/dm3", 1e3, "density", "kilogram / decimeter ** 3"),
        ("kg/L", 1e3, "density", "kilogram / liter"),
        ("g/mL", 1e3, "density", "gram / milliliter"),
        ("g/L", 1, "density", "gram / liter"),
        ("t/m3", 1e3, "density", "metric_ton / meter ** 3"),
        ("[lb_av]/[cft_i]", _POUND / _FOOT**3, "density", "pound / foot ** 3"),
        ("[lb_av]/[gal_us]", _POUND / _GALLON, "density", "pound / gallon"),
        ("m3/kg", 1, "specific volume", "meter ** 3 / kilogram"),
        ("m3/t", 1e-3, "specific volume", "meter ** 3 / metric_ton"),
        ("L/kg", 1e-3, "specific volume", "liter / kilogram"),
        ("[cft_i]/[lb_av]", _FOOT**3 / _POUND, "specific volume", "foot ** 3 / pound"),
        ("W/(m.K)", 1, "thermal conductivity", "watt / meter / kelvin"),
        ("mW/(m.K)", 1e-3, "thermal conductivity", "milliwatt / meter / kelvin"),
        ("W/(cm.K)", 1e2, "thermal conductivity", "watt / centimeter / kelvin"),
        (
            "cal/(s.cm.K)",
            _CAL * 1e2,
            "thermal conductivity",
            "calorie / second / centimeter / kelvin",
        ),
        (
            "kcal/(m.h.K)",
            _CAL * 1e3 / _HOUR,
            "thermal conductivity",
            "kilocalorie / meter / hour / kelvin",
        ),
        (
            "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
            _BTU * _INCH / (_FOOT**2 * _HOUR * _RANKINE),
            "thermal conductivity",
            "Btu_it * inch / foot ** 2 / hour / delta_degree_Fahrenheit",
        ),
        (
            "[Btu_IT]/([ft_i].h.[degR])",
            _BTU / (_FOOT * _HOUR * _RANKINE),
            "thermal conductivity",
            "Btu_it / foot / hour / delta_degree_Fahrenheit",
        ),
        ("m2/s", 1, "thermal diffusivity", "meter ** 2 / second"),
        ("mm2/s", 1e-6, "thermal diffusivity", "millimeter ** 2 / second"),
        ("[ft_i]2/h", _FOOT**2 / _HOUR, "thermal diffusivity", "foot ** 2 / hour"),
        ("J/(kg.K)", 1, "specific heat capacity", "joule / kilogram / kelvin"),
        ("kJ/(kg.K)", 1e3, "specific heat capacity", "kilojoule / kilogram / kelvin"),
        ("J/(g.K)", 1e3, "specific heat capacity", "joule / gram / kelvin"),
        ("cal/(g.K)", _CAL * 1e3, "specific heat capacity", "calorie / gram / kelvin"),
        ("kcal/(kg.K)", _CAL * 1e3, "specific heat capacity", "kilocalorie / kilogram / kelvin"),
        (
            "[Btu_IT]/([lb_av].[degR])",
            _BTU / (_POUND * _RANKINE),
            "specific heat capacity",
            "Btu_it / pound / delta_degree_Fahrenheit",
        ),
        ("1/K", 1, "expansion coefficient", "kelvin ** -1"),
        ("10*-6/K", 1e-6, "expansion coefficient", "ppm / kelvin"),
        ("um/(m.K)", 1e-6, "expansion coefficient", "micrometer / meter / kelvin"),
        ("1/[degR]", 1 / _RANKINE, "expansion coefficient", "delta_degree_Fahrenheit ** -1"),
        ("10*-6/[degR]", 1e-6 / _RANKINE, "expansion coefficient", "ppm / delta_degree_Fahrenheit"),
        ("Pa", 1, "pressure", "pascal"),
        ("kPa", 1e3, "pressure", "kilopascal"),
        ("MPa", 1e6, "pressure", "megapascal"),
        ("GPa", 1e9, "pressure", "gigapascal"),
        ("bar", 1e5, "pressure", "bar"),
        ("kgf/cm2", 9.80665e4, "pressure", "kilogram_force / centimeter ** 2"),
        ("N/mm2", 1e6, "pressure", "newton / millimeter ** 2"),
        ("[psi]", _PSI, "pressure", "psi"),
        ("K/h", 1 / _HOUR, "heating rate", "kelvin / hour"),
        ("K/min", 1 / 60, "heating rate", "kelvin / minute"),
        ("[degR]/h", _RANKINE / _HOUR, "heating rate", "delta_degree_Fahrenheit / hour"),
        ("m2", 1, "area", "meter ** 2"),
        ("[ft_i]2", _FOOT**2, "area", "foot ** 2"),
        ("g/m2", 1e-3, "mass per area", "gram / meter ** 2"),
        ("kg/m2", 1, "mass per area", "kilogram / meter ** 2"),
        ("[oz_av]/[sft_i]", _POUND / 16 / _FOOT**2, "mass per area", "ounce / foot ** 2"),
        ("J/kg", 1, "specific energy", "joule / kilogram"),
        ("kJ/kg", 1e3, "specific energy", "kilojoule / kilogram"),
        ("{cone}", 1, "cone number", "dimensionless"),
    ]
    table = {c: Unit(c, float(f), 0.0, d, "plain", p) for c, f, d, p in plain}
    table["K"] = Unit("K", 1.0, 0.0, "temperature", "either", "kelvin")
    table["[degR]"] = Unit("[degR]", _RANKINE, 0.0, "temperature", "either", "degree_Rankine")
    table["Cel"] = Unit("Cel", 1.0, 273.15, "temperature", "point", "degree_Celsius")
    table["[degF]"] = Unit(
        "[degF]", _RANKINE, 459.67 * _RANKINE, "temperature", "point", "degree_Fahrenheit"
    )
    return table


UNITS: Final[dict[str, Unit]] = _table()

# Common spellings, after folding (see _fold): what builders and data sheets write.
ALIASES: Final[dict[str, str]] = {
    "": "1",
    "-": "1",
    "percent": "%",
    "ppm": "[ppm]",
    "c": "Cel",
    "degc": "Cel",
    "celsius": "Cel",
    "cel": "Cel",
    "degreecelsius": "Cel",
    "f": "[degF]",
    "degf": "[degF]",
    "fahrenheit": "[degF]",
    "[degf]": "[degF]",
    "kelvin": "K",
    "degk": "K",
    "degr": "[degR]",
    "rankine": "[degR]",
    "kgs": "kg",
    "kilogram": "kg",
    "kilograms": "kg",
    "gram": "g",
    "grams": "g",
    "tonne": "t",
    "lb": "[lb_av]",
    "lbs": "[lb_av]",
    "pound": "[lb_av]",
    "pounds": "[lb_av]",
    "oz": "[oz_av]",
    "liter": "L",
    "litre": "L",
    "liters": "L",
    "litres": "L",
    "ml": "mL",
    "cc": "cm3",
    "cuft": "[cft_i]",
    "ft3": "[cft_i]",
    "in3": "[cin_i]",
    "gal": "[gal_us]",
    "qt": "[qt_us]",
    "gallon": "[gal_us]",
    "gallons": "[gal_us]",
    "quart": "[qt_us]",
    "in": "[in_i]",
    "inch": "[in_i]",
    "inches": "[in_i]",
    "ft": "[ft_i]",
    "feet": "[ft_i]",
    "thou": "[mil_i]",
    "micron": "um",
    "microns": "um",
    "metre": "m",
    "meter": "m",
    "sec": "s",
    "hr": "h",
    "hour": "h",
    "hours": "h",
    "minute": "min",
    "minutes": "min",
    "day": "d",
    "days": "d",
    "kg/l": "kg/L",
    "g/ml": "g/mL",
    "g/cc": "g/cm3",
    "g/l": "g/L",
    "kg/cum": "kg/m3",
    "lb/ft3": "[lb_av]/[cft_i]",
    "lb/cuft": "[lb_av]/[cft_i]",
    "pcf": "[lb_av]/[cft_i]",
    "lbs/ft3": "[lb_av]/[cft_i]",
    "lb/gal": "[lb_av]/[gal_us]",
    "l/kg": "L/kg",
    "w/mk": "W/(m.K)",
    "w/m.k": "W/(m.K)",
    "w/m/k": "W/(m.K)",
    "w/m-k": "W/(m.K)",
    "w/(m.k)": "W/(m.K)",
    "w/(mk)": "W/(m.K)",
    "w/(m*k)": "W/(m.K)",
    "w/m*k": "W/(m.K)",
    "w/(m.degc)": "W/(m.K)",
    "w/mc": "W/(m.K)",
    "btu.in/(h.ft2.f)": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btu.in/(hr.ft2.f)": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btu.in/(ft2.h.f)": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btu.in/(h.ft2.degf)": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btu-in/hr-ft2-f": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btuin/hrft2f": "[Btu_IT].[in_i]/([ft_i]2.h.[degR])",
    "btu/(h.ft.f)": "[Btu_IT]/([ft_i].h.[degR])",
    "btu/(hr.ft.f)": "[Btu_IT]/([ft_i].h.[degR])",
    "btu/hr-ft-f": "[Btu_IT]/([ft_i].h.[degR])",
    "kcal/(m.h.cel)": "kcal/(m.h.K)",
    "kcal/(m.h.c)": "kcal/(m.h.K)",
    "cal/(s.cm.cel)": "cal/(s.cm.K)",
    "cal/(cm.s.k)": "cal/(s.cm.K)",
    "j/kgk": "J/(kg.K)",
    "j/kg/k": "J/(kg.K)",
    "j/(kg.k)": "J/(kg.K)",
    "j/(kg*k)": "J/(kg.K)",
    "j/kg.k": "J/(kg.K)",
    "j/(kgk)": "J/(kg.K)",
    "kj/kgk": "kJ/(kg.K)",
    "kj/(kg.k)": "kJ/(kg.K)",
    "kj/kg.k": "kJ/(kg.K)",
    "j/gk": "J/(g.K)",
    "j/(g.cel)": "J/(g.K)",
    "cal/gk": "cal/(g.K)",
    "cal/(g.cel)": "cal/(g.K)",
    "btu/(lb.f)": "[Btu_IT]/([lb_av].[degR])",
    "btu/lb-f": "[Btu_IT]/([lb_av].[degR])",
    "btu/(lb.degf)": "[Btu_IT]/([lb_av].[degR])",
    "/k": "1/K",
    "k-1": "1/K",
    "1/c": "1/K",
    "1/degc": "1/K",
    "1/cel": "1/K",
    "1/f": "1/[degR]",
    "1/degf": "1/[degR]",
    "1/[degf]": "1/[degR]",
    "/[degr]": "1/[degR]",
    "10-6/k": "10*-6/K",
    "1e-6/k": "10*-6/K",
    "ppm/k": "10*-6/K",
    "mpa": "MPa",
    "n/mm2": "N/mm2",
    "kpa": "kPa",
    "gpa": "GPa",
    "psi": "[psi]",
    "lb/in2": "[psi]",
    "kg/cm2": "kgf/cm2",
    "c/h": "K/h",
    "degc/h": "K/h",
    "f/h": "[degR]/h",
    "degf/h": "[degR]/h",
    "k/hr": "K/h",
    "ft2": "[ft_i]2",
    "cone": "{cone}",
}
