"""How numbers, units and the catalogue's words are written for people.

Answers carry UCUM codes and six digits, made for programs. A page writes the same numbers with
three digits (temperatures to the whole degree) and the units as one writes them by hand. Nothing
is converted here: numbers arrive in the units asked for.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from hotface.units import convert

__all__ = [
    "BASES",
    "FORMS",
    "KINDS",
    "SOURCE_TYPES",
    "TRIGGERS",
    "UNIT_WORDS",
    "bounded",
    "condition",
    "counted",
    "formula",
    "number",
    "percent",
    "plain",
    "quantity",
    "reaches",
    "role",
    "sentence",
    "sentence_case",
    "span",
    "unit",
    "unstopped",
]

Shape = Mapping[str, Any]

UNIT_WORDS: Final[Mapping[str, str]] = {
    "1": "",
    "%": "%",
    "Cel": "°C",
    "[degF]": "°F",
    "K": "K",
    "[degR]": "°F",
    "kg": "kg",
    "[lb_av]": "lb",
    "L": "L",
    "[cft_i]": "ft³",
    "kg/m3": "kg/m³",
    "[lb_av]/[cft_i]": "lb/ft³",
    "m3/kg": "m³/kg",
    "[cft_i]/[lb_av]": "ft³/lb",
    "W/(m.K)": "W/(m·K)",
    "[Btu_IT].[in_i]/([ft_i]2.h.[degR])": "BTU·in/(ft²·h·°F)",
    "mm2/s": "mm²/s",
    "[ft_i]2/h": "ft²/h",
    "J/(kg.K)": "J/(kg·K)",
    "[Btu_IT]/([lb_av].[degR])": "BTU/(lb·°F)",
    "1/K": "per K",
    "1/[degR]": "per °F",
    "[psi]": "psi",
    "[in_i]": "in",
    "um": "µm",
    "m2": "m²",
    "g/m2": "g/m²",
    "[oz_av]/[sft_i]": "oz/ft²",
    "{cone}": "cone",
    "[degR]/h": "°F/h",
    "[gal_us]": "US gal",
}
"""Units as a hand writes them; a code that reads well already (``MPa``) stands for itself."""

KINDS: Final[Mapping[str, str]] = {
    "binder": "Binders",
    "aggregate": "Aggregates",
    "filler": "Fillers",
    "fibre": "Fibres",
    "pore-former": "Pore formers",
    "admixture": "Admixtures",
    "body": "Finished bodies",
    "mineral": "Minerals",
}

FORMS: Final[Mapping[str, str]] = {
    "heap": "loose heap",
    "grain": "single grain",
    "solid": "pore-free solid",
    "paste": "hardened paste",
    "body": "whole body",
}

BASES: Final[Mapping[str, str]] = {
    "read": "read in the source itself",
    "quoted": "quoted by another text",
    "computed": "computed from a published formula or data set",
    "memory": "recalled, not verified: nobody has checked it against a text",
    "measured": "measured by the contributor",
}

SOURCE_TYPES: Final[Mapping[str, str]] = {
    "standard": "standard",
    "handbook": "handbook",
    "journal": "journal article",
    "report": "report",
    "dataset": "data set",
    "patent": "patent",
    "encyclopedia": "encyclopedia",
    "supplier": "supplier's page",
    "web": "web page",
}

TRIGGERS: Final[Mapping[str, str]] = {
    "design": "when it is planned",
    "storage": "when it is stored",
    "weighing-and-mixing": "when it is weighed and mixed",
    "casting": "when it is cast",
    "curing": "while it cures",
    "lifting": "when it is lifted",
    "drying": "while it dries",
    "first-fire": "at the first fire",
    "firing": "at every fire",
    "cutting": "when it is cut or ground",
    "siting": "where it stands",
    "demolition": "when it is taken down",
}

_ROLES: Final[Mapping[str, str]] = {
    "use_limit": "limit of use",
    "test_class": "test temperature, not a limit of use",
    "failure_onset": "fails from here",
}
_EVENTS: Final[Mapping[str, str]] = {
    "first-heat": "on the first heat only",
    "process": "how it is made",
    "reversible-jump": "jumps at every heat",
    "leaves-by-design": "meant to leave",
    "other": "happens here",
}
_SUPERSCRIPTS: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_SUBSCRIPTS: Final = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_IN_SENTENCES: Final = (
    ("W/(m.K)", "W/(m·K)"),
    ("kg/m3", "kg/m³"),
    ("g/cm3", "g/cm³"),
    ("mg/m3", "mg/m³"),
    ("ug/m3", "µg/m³"),
    ("<= ", "≤ "),
    (">= ", "≥ "),
    *sorted(((code, said) for code, said in UNIT_WORDS.items() if "[" in code), reverse=True),
)
_A_PERCENT: Final = 0.01
_SMALL: Final = 1e-3
_LARGE: Final = 1e6
_DIGITS: Final = 3
_TEMPERATURES: Final = ("Cel", "[degF]", "K", "[degR]")
_CELSIUS: Final = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?)((?: to | and |-)(\d+(?:\.\d+)?))? Cel\b")


def unit(code: str) -> str:
    """Write a unit as one does by hand."""
    return UNIT_WORDS.get(code, code)


def _scientific(value: float) -> str:
    mantissa, _, exponent = f"{value:.{_DIGITS - 1}e}".partition("e")
    raised = str(int(exponent)).translate(_SUPERSCRIPTS)
    return f"{mantissa.rstrip('0').rstrip('.')}×10{raised}"


def number(value: float | None, code: str = "") -> str:
    """Write a number with three digits, a temperature to the whole degree."""
    if value is None:
        return "not held"
    if code in _TEMPERATURES:
        return f"{value:.0f}".replace("-", "−")
    if value != 0 and not _SMALL <= abs(value) < _LARGE:
        return _scientific(value).replace("-", "−")
    digits = f"{float(f'{value:.{_DIGITS}g}'):.10f}".rstrip("0").rstrip(".")
    return digits.replace("-", "−")


def _with_unit(text: str, code: str) -> str:
    shown = unit(code)
    return f"{text}\N{NO-BREAK SPACE}{shown}" if shown else text


def quantity(given: Shape | None) -> str:
    """Write ``{"value", "unit"}``."""
    if given is None:
        return "not stated"
    return _with_unit(number(given["value"], given["unit"]), given["unit"])


def span(given: Shape | None) -> str:
    """Write ``{"low", "high", "unit"}``; an open end is said so."""
    if given is None:
        return "not stated"
    code = given["unit"]
    low, high = (
        None if given.get(end) is None else number(given[end], code) for end in ("low", "high")
    )
    if low is None and high is None:
        return "not stated"
    if low is None:
        return "up to " + _with_unit(str(high), code)
    if high is None:
        return _with_unit(low, code) + " and more"
    return _with_unit(low if low == high else f"{low} to {high}", code)


def reaches(given: Shape) -> str:
    """Write the figures of a value: one, a range, a floor or a ceiling."""
    code = given["unit"]
    held = [given[end] for end in ("low", "typical", "high") if given[end] is not None]
    shown = list(dict.fromkeys(number(each, code) for each in (held[0], held[-1])))
    text = _with_unit(" to ".join(shown), code)
    if len(held) == 3 and number(given["typical"], code) not in shown:  # noqa: PLR2004
        text += f", typically {number(given['typical'], code)}"
    return bounded(text, given["bound"])


def bounded(text: str, bound: str) -> str:
    """Say whether a figure is a floor or a ceiling."""
    return {"at_least": f"at least {text}", "at_most": f"at most {text}"}.get(bound, text)


def plain(name: str) -> str:
    """Write an id as words."""
    return name.replace("_", " ").replace("-", " ")


def role(name: str | None, event_kind: str | None = None, property_: str = "") -> str:
    """Say what a temperature is a temperature of."""
    if name is None or name == "event":
        return _EVENTS[event_kind or "other"]
    if name == "failure_onset" and property_ == "service_limit":
        return "failed or advised against from here"
    return _ROLES[name]


def sentence_case(text: str) -> str:
    """Begin a fragment with a capital, as a sentence."""
    return text[:1].upper() + text[1:]


def unstopped(text: str) -> str:
    """Take the stop off a text that goes on in a sentence of ours."""
    return text.rstrip(".")


def percent(share: float) -> str:
    """Write a share as percent; what rounds to nothing is told as little."""
    return f"{share * 100:.0f} %" if share >= _A_PERCENT else "less than 1 %"


def formula(oxide: str) -> str:
    """Write an oxide with its small figures."""
    return oxide.translate(_SUBSCRIPTS)


def counted(count: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def sentence(text: str, units: str = "si") -> str:
    """Write a sentence of the catalogue for people.

    The catalogue speaks in degrees Celsius. A reader in US units gets the same sentence with the
    degrees Fahrenheit beside, so that what was said stays what was said.
    """

    def told(match: re.Match[str]) -> str:
        shown = f"{match[1]}{match[2] or ''}\N{NO-BREAK SPACE}°C"
        if units != "us":
            return shown
        ends = [end for end in (match[1], match[3]) if end is not None]
        other = " to ".join(f"{convert(float(end), 'Cel', '[degF]'):.0f}" for end in ends)
        return f"{shown} ({other}\N{NO-BREAK SPACE}°F)"

    text = _CELSIUS.sub(told, text)
    for code, shown in _IN_SENTENCES:
        text = text.replace(code, shown)
    return text


def _density(given: Shape | None) -> str | None:
    """Write a band of body density, which is 200 kg/m3 wide, by where it starts."""
    return None if given is None else f"density from {quantity(given)}"


def condition(given: Shape | None) -> str:
    """Write the condition an answer holds under, as one line."""
    if given is None:
        return "no condition held"
    words = [FORMS[given["form"]], given["state"] or "state not stated"]
    words += [plain(given[name]) for name in ("fill", "direction") if given.get(name)]
    if given.get("with"):
        words.append(f"with {plain(given['with'])}")
    for name, said in (("treatment_temperature", "treated at"), ("age", "aged")):
        if given.get(name):
            words.append(f"{said} {quantity(given[name])}")
    band = _density(given.get("specimen_density_from"))
    return ", ".join([*words, *([band] if band else [])])
