"""What fills a mould, and the draws behind an estimate, as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hotface.units import Unit
from hotface_api.catalogue.ranges import Range
from hotface_api.http.context import Asked
from hotface_api.http.dumps import Writer
from hotface_api.mixes.answer import Casting, CastPart, Draws
from hotface_api.mixes.drying import DryingPractice, DryingStep

__all__ = ["casting", "draws", "plain_range"]

Shape = dict[str, Any]
FloatArray = NDArray[np.float64]
_DIGITS: Final = 6


def plain_range(asked: Asked, what: str, found: Range) -> Shape:
    """Write a range of what is no property, such as a volume."""
    output, unit = asked.output, asked.output.unit(what)
    return {
        "low": output.number(found.low, unit),
        "typical": output.number(found.typical, unit),
        "high": output.number(found.high, unit),
        "unit": unit.code,
        "kind": "interval",
        "coverage": found.coverage,
    }


def _part(asked: Asked, found: CastPart) -> Shape:
    return {
        "material": found.material,
        "dry_mass": plain_range(asked, "mass", found.dry_mass),
        "amount": plain_range(asked, found.amount_kind, found.amount),
        "measured_as": found.measured_as,
    }


def _one_part(asked: Asked, found: Casting) -> Shape | None:
    """Write how big one part is; all constituents are counted alike, so the first tells by what."""
    if found.one_part is None:
        return None
    return plain_range(asked, found.constituents[0].amount_kind, found.one_part)


def casting(asked: Asked, found: Casting | None) -> Shape | None:
    """Write what fills a mould."""
    if found is None:
        return None
    batches = None if found.batches is None else plain_range(asked, "fraction", found.batches)
    return {
        "mould_volume": asked.output.quantity("volume", found.mould_volume),
        "spare": found.spare,
        "batches": batches,
        "one_part": _one_part(asked, found),
        "constituents": [_part(asked, part) for part in found.constituents],
        "water": plain_range(asked, "mass", found.water),
        "piece": {name: plain_range(asked, "mass", mass) for name, mass in found.piece.items()},
        "drying": _drying(asked, found.drying),
    }


def _practice(row: Mapping[str, Any]) -> Shape:
    return {
        "practice": row["id"],
        "statement": row["statement"],
        "source": row["source"],
        "locator": row["locator"],
    }


def _step(asked: Asked, step: DryingStep) -> Shape:
    output = asked.output
    return {
        "title": step.title,
        "reaches": output.span("temperature", *(step.reaches or (None, None))),
        "ramp_at_most": output.quantity("heating rate", step.ramp_at_most),
        "hold": output.quantity("duration", step.hold),
        "takes_at_least": output.quantity("duration", step.takes_at_least),
        **_practice(step.practice),
    }


def _drying(asked: Asked, found: DryingPractice | None) -> Shape | None:
    if found is None:
        return None
    return {
        "thickness": asked.output.quantity("length", found.thickness),
        "water_unbound": plain_range(asked, "mass", found.water_unbound),
        "water_bound": plain_range(asked, "mass", found.water_bound),
        "steps": [_step(asked, step) for step in found.steps],
        "takes_at_least": asked.output.quantity("duration", found.takes_at_least),
        "others": [_practice(row) for row in found.others],
        "promise": found.promise,
        "reason": found.reason,
    }


def _rounded(values: FloatArray, unit: Unit, *, difference: bool) -> list[Any]:
    """Convert and round many numbers at once, to the digits of all other answers."""
    written = (values - (0.0 if difference else unit.offset)) / unit.factor
    size = np.floor(np.log10(np.maximum(np.abs(written), 1e-12)))
    digits = 10.0 ** (_DIGITS - 1 - size)
    found: list[Any] = (np.round(written * digits) / digits + 0.0).tolist()
    return found


def _drawn(asked: Asked, name: str, values: FloatArray | None) -> Shape | None:
    """Write draws of a property; a curve as a row a draw."""
    if values is None:
        return None
    write = Writer(asked.output, asked.reference.properties[name])
    rows = _rounded(np.asarray(values).T, write.unit, difference=write.difference)
    return {"unit": write.unit.code, "values": rows}


def draws(asked: Asked, found: Draws | None) -> Shape | None:
    """Write the draws behind an estimate, correlated as drawn."""
    if found is None:
        return None
    unit = asked.output.unit("temperature")
    curves = ("thermal_conductivity", "specific_heat_capacity", "thermal_strain")
    return {
        "count": found.count,
        "temperatures": [asked.output.number(each, unit) for each in found.temperatures],
        "temperature_unit": unit.code,
        "bulk_density": _drawn(asked, "bulk_density", found.bulk_density),
        "densities": {
            name: _drawn(asked, "bulk_density", values) for name, values in found.densities.items()
        },
        **{name: _drawn(asked, name, getattr(found, name)) for name in curves},
    }
