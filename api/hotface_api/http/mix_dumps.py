"""Estimates as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotface_api.catalogue.ranges import Range
from hotface_api.http import shapes
from hotface_api.http.context import Asked
from hotface_api.http.dumps import Writer, first_melt, near_specimen
from hotface_api.http.mix_castings import casting, draws, plain_range
from hotface_api.http.quantities import significant
from hotface_api.mixes.answer import Composition, CurvePoint, Estimate, Validation
from hotface_api.mixes.classes import ClosestClass
from hotface_api.mixes.request import Measured, State
from hotface_api.mixes.service import ServiceLimit
from hotface_api.mixes.strength import StrengthClass

__all__ = ["estimate"]

Shape = dict[str, Any]


def _composition(asked: Asked, found: Composition) -> Shape:
    per_mass, pack = found.yield_per_dry_mass, found.pack_factor
    return {
        "constituents": [
            {
                "material": share.material,
                "mass_fraction": significant(share.mass_fraction),
                "volume_fraction": significant(share.volume_fraction),
                "dry_mass": None
                if share.dry_mass is None
                else plain_range(asked, "mass", share.dry_mass),
            }
            for share in found.constituents
        ],
        "porosity": plain_range(asked, "fraction", found.porosity),
        "yield": plain_range(asked, "specific volume" if per_mass else "volume", found.yield_),
        "water": plain_range(asked, "fraction" if per_mass else "mass", found.water),
        "pack_factor": None if pack is None else plain_range(asked, "fraction", pack),
    }


_BOUNDS = ("lower_bound", "upper_bound", "series_bound", "parallel_bound")


def _points(
    points: Sequence[CurvePoint], write: Writer, bounds: tuple[str, ...] = ()
) -> list[Shape]:
    return [
        {
            "temperature": write.output.quantity("temperature", point.temperature),
            "low": write.number(point.range.low),
            "typical": write.number(point.range.typical),
            "high": write.number(point.range.high),
            **{name: write.number(getattr(point, name)) for name in bounds},
        }
        for point in points
    ]


def _curve(asked: Asked, name: str, points: Sequence[CurvePoint] | None) -> Shape | None:
    if points is None:
        return None
    write = Writer(asked.output, asked.reference.properties[name])
    return {"unit": write.unit.code, "points": _points(points, write)}


def _service_limit(asked: Asked, found: ServiceLimit) -> Shape:
    unit = asked.output.unit("temperature")
    return {
        "low": asked.output.number(found.low, unit),
        "typical": None,
        "high": asked.output.number(found.high, unit),
        "unit": unit.code,
        "kind": "observed",
        "coverage": None,
        "limited_by": found.limited_by,
        "event": found.event,
        "unknown": list(found.unknown),
        "first_melt_possible_from": first_melt(found.first_melt_possible_from, asked.output),
        "values": list(found.values),
        "citations": list(found.citations),
    }


def _strength(asked: Asked, found: StrengthClass | None) -> Shape | None:
    if found is None:
        return None
    unit = asked.output.unit("pressure")
    return {
        "low": asked.output.number(found.low, unit),
        "high": asked.output.number(found.high, unit),
        "unit": unit.code,
        "reference_mix": found.reference_mix,
        "reference_strength": asked.output.quantity("pressure", found.reference_strength),
        "reference_density": asked.output.quantity("density", found.reference_density),
        "source": found.source,
        "text": found.text,
    }


def _class(asked: Asked, found: ClosestClass | None) -> Shape | None:
    if found is None:
        return None
    return {
        "standard": found.standard,
        "name": found.name,
        "edition": found.edition,
        "density_at_most": asked.output.quantity("density", found.density_at_most),
        "shrinkage_temperature": asked.output.quantity("temperature", found.shrinkage_temperature),
        "text": found.text,
        "unverified": found.unverified,
        "citations": list(found.sources),
    }


def _validation(found: Validation | None) -> Shape | None:
    if found is None:
        return None
    return {
        "family": found.family,
        "bodies": found.bodies,
        "sources": found.sources,
        "median_error": found.median_error,
        "coverage": found.coverage,
        "text": found.text,
    }


def _properties(asked: Asked, found: Estimate) -> Shape:
    rows = asked.reference.properties
    density = Writer(asked.output, rows["bulk_density"])
    conductivity = Writer(asked.output, rows["thermal_conductivity"])
    change = found.permanent_change
    return {
        "bulk_density": density.range(found.bulk_density, "interval"),
        "thermal_conductivity": {
            "unit": conductivity.unit.code,
            "method": found.method,
            "points": _points(found.thermal_conductivity, conductivity, _BOUNDS),
        },
        "specific_heat_capacity": _curve(
            asked, "specific_heat_capacity", found.specific_heat_capacity
        ),
        "thermal_strain": _curve(asked, "thermal_strain", found.thermal_strain),
        "permanent_change": None if change is None else plain_range(asked, "strain", change),
        "strength_class": _strength(asked, found.strength_class),
        "service_limit": _service_limit(asked, found.service_limit),
    }


def _state(asked: Asked, state: State, water: Range | None) -> Shape:
    return {
        "kind": state.kind,
        "temperature": asked.output.quantity("temperature", state.temperature),
        "moisture": asked.output.quantity("fraction", state.moisture),
        "water": None if water is None else plain_range(asked, "fraction", water),
    }


def _measured(asked: Asked, found: Measured) -> Shape | None:
    """Write what was measured in the units of the answer; None where nothing was."""
    output, at = asked.output, found.thermal_conductivity_at
    write = Writer(output, asked.reference.properties["thermal_conductivity"])
    conductivity = {
        "value": write.number(found.thermal_conductivity),
        "unit": write.unit.code,
        "temperature": output.quantity("temperature", at),
    }
    if found.bulk_density is None and at is None and not found.densities:
        return None
    return {
        "bulk_density": output.quantity("density", found.bulk_density),
        "densities": {
            name: output.quantity("density", density) for name, density in found.densities.items()
        },
        "thermal_conductivity": None if at is None else conductivity,
        "spread": found.spread,
    }


def estimate(asked: Asked, found: Estimate, mix: Mapping[str, Any]) -> Shape:
    """Write an estimate, with the mix as it was given."""
    request = found.request
    density = Writer(asked.output, asked.reference.properties["bulk_density"])
    return {
        **asked.envelope(),
        "coverage": request.coverage,
        "seed": request.seed,
        "state": _state(asked, request.state, found.moisture),
        "mix": dict(mix),
        "measured": _measured(asked, request.measured),
        "rule": request.rule,
        "rule_options": dict(request.rule_options),
        "composition": _composition(asked, found.composition),
        "properties": _properties(asked, found),
        "densities": {
            name: density.range(found.densities[name], "interval")
            for name in ("fresh", "demoulded", "dried", "fired")
        },
        "casting": casting(asked, found.casting),
        "draws": draws(asked, found.draws),
        "closest_class": _class(asked, found.closest_class),
        "nearest_specimens": [near_specimen(asked, each) for each in found.nearest_specimens],
        "doubt_shares": [
            {
                "input": doubt.input,
                "share": significant(doubt.share),
                "advice": doubt.advice,
                "output": doubt.output,
            }
            for doubt in found.doubt_shares
        ],
        "narrowed_by": {name: significant(part) for name, part in found.narrowed_by.items()},
        "validated_on": _validation(found.validated_on),
        "assumptions": [{"code": each.code, "text": each.text} for each in found.assumptions],
        "cautions": [shapes.caution(row) for row in found.cautions],
        "citations": list(found.citations),
        "reasons": dict(found.reasons),
    }
