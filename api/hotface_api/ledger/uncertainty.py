"""Uncertainties as contributors state them into the standard uncertainty that is stored (GUM)."""

from __future__ import annotations

import re
from typing import Any, Final

from hotface.units import Unit
from hotface_api.ledger.drafts import UncertaintyDraft
from hotface_api.ledger.texts import Faults
from hotface_api.science.comparison import limits_uncertainty
from hotface_api.store.vocabulary import DISTRIBUTIONS, UNCERTAINTY_KINDS

__all__ = ["FIGURE", "NO_UNCERTAINTY", "read_uncertainty"]

FIGURE: Final = re.compile(r"[+-]?[0-9]{1,30}(\.[0-9]{1,30})?([eE][+-]?[0-9]{1,3})?")
"""A printed figure: digits, a point, an exponent; no thousands marks, no comma."""
_WAYS: Final = ("standard", "expanded", "half_width", "standard_si")
_LIMITS: Final = ("rectangular", "triangular")
_SMALLEST: Final = 1e-100
_LARGEST: Final = 1e100
"""Sizes are squared and divided by: far below these an E_n would be infinite, far above nought."""
_LARGEST_FACTOR: Final = 10.0
NO_UNCERTAINTY: Final[dict[str, Any]] = {
    "uncertainty_standard": None,
    "uncertainty_kind": None,
    "uncertainty_distribution": None,
    "uncertainty_coverage_factor": None,
    "uncertainty_degrees_of_freedom": None,
    "uncertainty_n": None,
}


def read_uncertainty(
    draft: UncertaintyDraft | None, unit: Unit, faults: Faults, place: str
) -> dict[str, Any]:
    """Read an uncertainty stated in the unit of its figure.

    Parameters
    ----------
    draft : UncertaintyDraft or None
        Absent stays absent: an uncertainty is never invented.
    unit : Unit
        The unit of the figure; an uncertainty is a difference, so offsets do not count.
    faults : Faults
    place : str
        JSON pointer of the uncertainty below the faults' base.

    Returns
    -------
    dict
        The ``uncertainty_*`` columns of a value, the standard uncertainty in SI.

    Notes
    -----
    JCGM 100:2008: expanded uncertainty over coverage factor (4.3.3, 6.2.1); limits ``±a`` with a
    rectangular or triangular distribution (4.3.7, 4.3.9).
    """
    if draft is None:
        return dict(NO_UNCERTAINTY)
    given = [way for way in _WAYS if getattr(draft, way) is not None]
    if len(given) != 1:
        faults.add(place, f"give one of {', '.join(_WAYS[:3])}")
        return dict(NO_UNCERTAINTY)
    kind = faults.word(f"{place}/kind", draft.kind, UNCERTAINTY_KINDS)
    distribution = faults.word(f"{place}/distribution", draft.distribution, DISTRIBUTIONS)
    freedom = faults.number(f"{place}/degrees_of_freedom", draft.degrees_of_freedom, 0.5, 1e9)
    readings = faults.number(f"{place}/n", draft.n, 1, 1e9)
    factor = faults.number(f"{place}/coverage_factor", draft.coverage_factor, 0.1, _LARGEST_FACTOR)
    if kind == "A" and readings is None and freedom is None:
        faults.add(place, "type A comes from repeated readings: give n or degrees_of_freedom")
    way = given[0]
    if way == "standard_si":
        standard = faults.number(f"{place}/standard", draft.standard_si, _SMALLEST, _LARGEST)
    else:
        size = _size(getattr(draft, way), faults, f"{place}/{way}")
        said = None if size is None else _standard(way, size, factor, distribution, faults, place)
        standard = None if said is None else said * unit.factor
    return {
        "uncertainty_standard": standard,
        "uncertainty_kind": kind,
        "uncertainty_distribution": distribution,
        "uncertainty_coverage_factor": factor,
        "uncertainty_degrees_of_freedom": freedom,
        "uncertainty_n": None if readings is None else int(readings),
    }


def _size(text: Any, faults: Faults, place: str) -> float | None:
    if not isinstance(text, str) or not FIGURE.fullmatch(text.strip()):
        faults.add(place, "an uncertainty is a figure in the unit of the value, like 0.02")
        return None
    size = float(text)
    if not _SMALLEST <= size <= _LARGEST:
        plain = "an uncertainty is above zero, and no smaller or larger than can be meant"
        faults.add(place, plain)
        return None
    return size


def _standard(
    way: str,
    size: float,
    factor: float | None,
    distribution: str | None,
    faults: Faults,
    place: str,
) -> float | None:
    if way == "standard":
        return size
    if way == "half_width" and distribution in _LIMITS:
        return float(limits_uncertainty(size, str(distribution)))
    if factor is not None:
        return size / factor
    if way == "expanded":
        faults.add(f"{place}/coverage_factor", "an expanded uncertainty comes with its factor k")
    else:
        faults.add(
            f"{place}/distribution",
            "limits are rectangular or triangular; normal ones need a coverage_factor",
        )
    return None
