"""Numbers, units and tables for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

__all__ = ["html_fold", "html_list", "html_table", "show_number", "show_unit"]

_SIGNS = (
    ("10*-6", "10⁻⁶"),
    ("[Btu_IT]", "BTU"),
    ("[lb_av]", "lb"),
    ("[oz_av]", "oz"),
    ("[cft_i]", "ft³"),
    ("[cin_i]", "in³"),
    ("[gal_us]", "gal"),
    ("[qt_us]", "qt"),
    ("[ft_i]", "ft"),
    ("[in_i]", "in"),
    ("[mil_i]", "mil"),
    ("[psi]", "psi"),
    ("[ppm]", "ppm"),
    ("[degF]", "°F"),
    ("[degR]", "°F"),  # in answers [degR] is a difference, which people write in °F
    ("Cel", "°C"),
    ("{cone}", "cone"),
    ("um", "µm"),
    ("ft2", "ft²"),
    ("mm2", "mm²"),
    ("m2", "m²"),
    ("m3", "m³"),
    (".", "·"),
)
_SHOWN_DIGITS = 4
_FIXED_FROM, _FIXED_TO = 1e-3, 1e7


def show_unit(code: str) -> str:
    """Write a UCUM code the way people do: ``W/(m.K)`` becomes ``W/(m·K)``."""
    if code == "1":
        return ""
    for sign, written in _SIGNS:
        code = code.replace(sign, written)
    return code


def show_number(value: float | None) -> str:
    """Write a number with four significant digits and no needless exponent."""
    if value is None:
        return "-"
    if value == 0:
        return "0"
    if not _FIXED_FROM <= abs(value) < _FIXED_TO:
        return f"{value:.{_SHOWN_DIGITS}g}"
    text = f"{value:.{_SHOWN_DIGITS}g}"
    return f"{float(text):.0f}" if "e" in text else text


def _cell(value: object) -> str:
    return "-" if value is None or value == "" else str(value)


def html_table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[object]], notes: Iterable[str] = ()
) -> str:
    """Make a table that a screen reader can follow: caption, column and row headings."""
    top = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
    body = "".join(
        f'<tr><th scope="row">{escape(_cell(row[0]))}</th>'
        + "".join(f"<td>{escape(_cell(cell))}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    after = "".join(f"<p>{escape(note)}</p>" for note in notes)
    return (
        f"<table><caption>{escape(caption)}</caption><thead><tr>{top}</tr></thead>"
        f"<tbody>{body}</tbody></table>{after}"
    )


def html_list(heading: str, items: Iterable[object]) -> str:
    """Make a list with a heading; nothing where there are no items."""
    lines = "".join(f"<li>{escape(str(item))}</li>" for item in items)
    return f"<p>{escape(heading)}</p><ul>{lines}</ul>" if lines else ""


def html_fold(summary: str, items: Iterable[object]) -> str:
    """Make a list that opens under its summary; nothing where there are no items."""
    lines = "".join(f"<li>{escape(str(item))}</li>" for item in items)
    if not lines:
        return ""
    return f"<details><summary>{escape(summary)}</summary><ul>{lines}</ul></details>"
