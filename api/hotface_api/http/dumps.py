"""Computed answers as JSON: from the catalogue's dataclasses to the documented objects."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotface.units import Unit
from hotface_api.catalogue.conditions import Condition
from hotface_api.catalogue.curves import CurvePoint
from hotface_api.catalogue.holdings import Held, Holding
from hotface_api.catalogue.melt import FirstMelt
from hotface_api.catalogue.nearest import NearSpecimen
from hotface_api.catalogue.properties import Derivation, Other, PropertyAnswer
from hotface_api.catalogue.ranges import Range, Summary
from hotface_api.catalogue.survival import Event, Survival
from hotface_api.http import shapes
from hotface_api.http.context import Asked
from hotface_api.http.quantities import Output, significant

__all__ = [
    "Writer",
    "first_melt",
    "held",
    "holding",
    "near_specimen",
    "property_answer",
    "survival",
]

Row = Mapping[str, Any]
Shape = dict[str, Any]
Span = tuple[float | None, float | None]


class Writer:
    """Writes numbers of one property."""

    def __init__(self, output: Output, property_row: Row) -> None:
        self.output = output
        self.row = property_row
        self.unit: Unit = output.of_property(property_row)
        self.difference = property_row["temperature_kind"] == "difference"

    def number(self, value: float | None) -> float | None:
        """Write one number."""
        return self.output.number(value, self.unit, difference=self.difference)

    def range(self, found: Range | None, kind: str) -> Shape | None:
        """Write a range."""
        if found is None:
            return None
        return {
            "low": self.number(found.low),
            "typical": self.number(found.typical),
            "high": self.number(found.high),
            "unit": self.unit.code,
            "kind": kind,
            "coverage": found.coverage,
        }

    def spread(self, value: float) -> float | None:
        """Write a spread: relative on the log scale, else in the output unit."""
        if self.row["scale"] == "log":
            return significant(value)
        return self.output.number(value, self.unit, difference=True)


def _condition(
    condition: Condition | None, temperature: tuple[float, float] | None, output: Output
) -> Shape | None:
    if condition is None:
        return None
    return {
        "form": condition.form,
        "state": condition.state,
        "fill": condition.fill,
        "with": condition.with_,
        "direction": condition.direction,
        "atmosphere": condition.atmosphere,
        "role": condition.role,
        "event_kind": condition.event_kind,
        "treatment_temperature": output.quantity("temperature", condition.treatment_temperature),
        "age": output.quantity("age", condition.age),
        "specimen_density_from": output.quantity("density", condition.density_band),
        "temperature": output.span("temperature", *(temperature or (None, None))),
    }


def _other(other: Other, write: Writer) -> Shape:
    summary = other.summary
    return {
        "condition": _condition(other.condition, other.temperature, write.output),
        "range": write.range(summary.interval, "interval"),
        "observed": write.range(summary.observed, "observed"),
        "origins": len(summary.votes),
    }


def _point(point: CurvePoint, write: Writer) -> Shape:
    found = point.range
    return {
        "temperature": write.output.quantity("temperature", point.temperature),
        "low": None if found is None else write.number(found.low),
        "typical": None if found is None else write.number(found.typical),
        "high": None if found is None else write.number(found.high),
        "extrapolated": point.extrapolated,
        "reason": point.reason,
    }


def _band(points: Sequence[CurvePoint], write: Writer) -> Shape:
    unit = write.output.unit("temperature")
    ranges = [point.range or Range(None, None, None, None) for point in points]
    return {
        "temperature": [write.output.number(point.temperature, unit) for point in points],
        "temperature_unit": unit.code,
        "low": [write.number(found.low) for found in ranges],
        "typical": [write.number(found.typical) for found in ranges],
        "high": [write.number(found.high) for found in ranges],
    }


def _derivation(derivation: Derivation, summary: Summary, write: Writer) -> Shape:
    return {
        "rule": derivation.rule,
        "text": derivation.text,
        "origins": derivation.origins,
        "spread": write.spread(derivation.spread),
        "spread_floor": write.spread(derivation.spread_floor),
        "used": [
            {"value": use.value, "origin": use.origin, "weight": significant(use.weight)}
            for use in summary.used
        ],
        "left_out": [{"value": key, "reason": reason} for key, reason in summary.left_out],
        "outliers": list(summary.outliers),
    }


def property_answer(asked: Asked, found: PropertyAnswer) -> Shape:
    """Write the answer to what is known of a property of a material."""
    write = Writer(asked.output, asked.reference.properties[found.property])
    derivation = None
    if found.derivation is not None and found.summary is not None:
        derivation = _derivation(found.derivation, found.summary, write)
    return {
        "material": found.material,
        "property": found.property,
        "unit": write.unit.code,
        "range": write.range(found.range, "interval"),
        "observed": write.range(found.observed, "observed"),
        "condition": _condition(found.condition, found.temperature, asked.output),
        "unverified": found.unverified,
        "reason": found.reason,
        "others": [_other(other, write) for other in found.others],
        "points": None if found.points is None else [_point(p, write) for p in found.points],
        "band": None if found.band is None else _band(found.band, write),
        "derivation": derivation,
        "citations": list(found.citations),
        **asked.envelope(),
    }


def _event(event: Event, output: Output) -> Shape:
    return {
        "property": event.property,
        "role": event.role,
        "temperature": output.span("temperature", event.low, event.high),
        "text": event.text,
        "value": event.value,
    }


def _span(span: Span | None, output: Output) -> Shape | None:
    return output.span("temperature", *(span or (None, None)))


def first_melt(melt: FirstMelt | None, output: Output) -> Shape | None:
    """Write where a first liquid is possible."""
    if melt is None:
        return None
    return {
        "temperature": output.quantity("temperature", melt.temperature),
        "oxides": list(melt.oxides),
        "phases": melt.phases,
        "phase": melt.phase,
        "source": melt.source,
        "most_liquid": None if melt.most_liquid is None else significant(melt.most_liquid),
    }


def survival(asked: Asked, found: Survival) -> Shape:
    """Write the answer to whether a material survives."""
    output, question, event = asked.output, found.question, found.limiting_event
    return {
        "material": question.material,
        "temperature": output.quantity("temperature", question.temperature),
        "with": question.with_,
        "place": question.place,
        "load": question.load,
        "cycling": question.cycling,
        "outcome": found.outcome,
        "answer": found.answer,
        "heading": found.heading,
        "limiting_event": None if event is None else _event(event, output),
        "limit": _span(found.limit, output),
        "margin_required": output.quantity("difference", question.margin),
        "headroom": output.quantity("difference", found.headroom),
        "melts_at": _span(found.melts_at, output),
        "first_heat": [_event(each, output) for each in found.first_heat],
        "first_melt_possible_from": first_melt(found.first_melt_possible_from, output),
        "leaves_by_design": found.leaves_by_design,
        "reasons": list(found.reasons),
        "origins": found.origins,
        "values": list(found.values),
        "citations": list(found.citations),
        "cautions": [shapes.caution(row) for row in found.cautions],
        "promise": found.promise,
        **asked.envelope(),
    }


def held(asked: Asked, item: Held) -> Shape:
    """Write what is held of one property."""
    return {
        "property": item.property,
        "values": item.values,
        "origins": item.origins,
        "forms": list(item.forms),
        "curve": item.curve,
        "up_to": asked.output.quantity("temperature", item.up_to),
        "unverified": item.unverified,
    }


def holding(asked: Asked, found: Holding) -> Shape:
    """Write what is held of a material and what is missing."""
    properties = asked.reference.properties
    return {
        "material": found.material,
        "kind": asked.reference.materials[found.material]["kind"],
        "held": [held(asked, item) for item in found.held],
        "missing": [{"property": name, "need": properties[name]["need"]} for name in found.missing],
    }


def near_specimen(asked: Asked, found: NearSpecimen) -> Shape:
    """Write a measured body with its numbers, how far it is from a mix, and why."""
    return {
        **shapes.specimen(asked, found.specimen, found.constituents),
        "distance": significant(found.distance),
        "because": {name: significant(part) for name, part in found.parts.items()},
        "values": [shapes.value(asked, row) for row in found.values],
    }
