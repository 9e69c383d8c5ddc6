"""Single look-ups in the reference tables: a cone, a temperature, oxides that meet."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from flask import Response

from hotface_api.catalogue.lookups import (
    ConeMatch,
    ConeReading,
    cone_at,
    cone_temperature,
    melting_of,
)
from hotface_api.http import shapes
from hotface_api.http.answer_schemas import FirstMeltShape
from hotface_api.http.conditional import answer
from hotface_api.http.context import Asked, ask, service
from hotface_api.http.documented import flag, listed, nested, number, strings, text
from hotface_api.http.dumps import first_melt
from hotface_api.http.operations import Topic, reads
from hotface_api.http.parameters import Choice, DatedQuery, Words
from hotface_api.http.problems import Code, Problem
from hotface_api.http.quantities import QuantityField
from hotface_api.http.schemas import EnvelopeShape, PhaseItem, QuantityShape

__all__ = ["topic"]

topic = Topic("lookups", __name__, url_prefix="/v1", description="Single look-ups.")
_SERIES = (
    "orton-large",
    "orton-small",
    "orton-self-supporting",
    "orton-pce",
    "seger",
    "iso",
)


class FiringQuery(DatedQuery):
    """A cone or a temperature, with what narrows the chart."""

    cone = ma.fields.String(
        validate=ma.validate.Length(1, 12),
        metadata={"description": "Cone number as its series writes it, such as 6."},
    )
    temperature = QuantityField(
        "temperature",
        temperature="point",
        metadata={"description": "End of the firing, such as `1200 Cel`."},
    )
    series = Choice(_SERIES, metadata={"description": "Only this series of cones."})
    heating_rate = QuantityField(
        "heating rate",
        minimum=0.0,
        above=True,
        metadata={"description": "Heating rate near the end, such as `60 K/h`."},
    )


class ConeReadingShape(ma.Schema):
    """Where one cone falls, by one source at one heating rate."""

    series = text()
    cone = text()
    heating_rate = nested(QuantityShape, null=True)
    temperature = nested(QuantityShape, null=True)
    interpolated = flag("Whether it lies between two heating rates of the source.")
    unverified = flag("Whether it rests on memory only.")
    reason = text(null=True)
    source = text(null=True)


class ConeMatchShape(ma.Schema):
    """The cones a temperature lies between, by one source at one heating rate."""

    series = text()
    heating_rate = nested(QuantityShape, null=True)
    source = text(null=True)
    unverified = flag()
    below = nested(ConeReadingShape, "The cone that is down.", null=True)
    above = nested(ConeReadingShape, "The next cone, still up.", null=True)


class FiringShape(EnvelopeShape):
    """Readings of a cone, or the cones about a temperature."""

    readings = listed(ConeReadingShape)
    matches = listed(ConeMatchShape)


def _reading(asked: Asked, found: ConeReading | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "series": found.series,
        "cone": found.cone,
        "heating_rate": asked.output.quantity("heating rate", found.heating_rate),
        "temperature": asked.output.quantity("temperature", found.temperature),
        "interpolated": found.interpolated,
        "unverified": found.unverified,
        "reason": found.reason,
        "source": found.source,
    }


def _match(asked: Asked, found: ConeMatch) -> dict[str, Any]:
    return {
        "series": found.series,
        "heating_rate": asked.output.quantity("heating rate", found.heating_rate),
        "source": found.source,
        "unverified": found.unverified,
        "below": _reading(asked, found.below),
        "above": _reading(asked, found.above),
    }


@reads(
    topic,
    "/cone-firings",
    FiringQuery,
    FiringShape,
    summary="Cone to temperature, or temperature to cone",
    description="Give `cone` for the temperatures it falls at, or `temperature` for the cones it"
    " lies between; by series, source and heating rate. A cone measures heat work: name the rate.",
)
def get_cone_firings(query: dict[str, Any]) -> Response:
    """Look up a cone or a temperature."""
    asked = ask(query)
    cone, temperature = query.get("cone"), query.get("temperature")
    if (cone is None) == (temperature is None):
        detail = "give either cone or temperature"
        raise Problem(
            Code.INVALID_PARAMETER, detail, errors=[{"parameter": "cone", "detail": detail}]
        )
    narrowed = {"series": query.get("series"), "heating_rate": query.get("heating_rate")}
    document: dict[str, Any] = {"readings": [], "matches": []}
    with service().database.look() as connection:
        if temperature is None:
            found = cone_temperature(connection, asked.reference, str(cone), **narrowed)
            document["readings"] = [_reading(asked, each) for each in found]
        else:
            near = cone_at(connection, asked.reference, temperature, **narrowed)
            document["matches"] = [_match(asked, each) for each in near]
    return answer(asked, {**document, **asked.envelope()})


class MeltingQuery(DatedQuery):
    """Oxides that meet."""

    oxides = Words(
        required=True,
        metadata={"description": "Oxides that meet.", "example": ["CaO", "Al2O3", "SiO2"]},
    )


class LiquidShape(PhaseItem):
    """A published point at which some of the oxides form a liquid."""

    most_liquid = number("Largest share of the mass that can be liquid, where known.")
    unverified = flag("Whether it rests on memory only.")


class MeltingShape(EnvelopeShape):
    """What is published on the melting of some oxides."""

    oxides = strings()
    first_melt_possible_from = nested(
        FirstMeltShape, "The lowest cited liquid; a caution, not a limit.", null=True
    )
    reacts = listed(LiquidShape, "Every point of these oxides, from the lowest up.")


@reads(
    topic,
    "/meltings",
    MeltingQuery,
    MeltingShape,
    summary="What given oxides do when they meet",
    description="The lowest published liquid of the oxides given, and every published point of"
    " them. A first liquid is a caution with an amount, never a limit by itself.",
)
def get_meltings(query: dict[str, Any]) -> Response:
    """Look up oxides that meet."""
    asked = ask(query)
    known = {name for phase in asked.reference.phases for name in phase["oxides"].split("-")}
    unknown = sorted(set(query["oxides"]) - known)
    if unknown:
        detail = f"no point is held with {', '.join(unknown)}; held are {', '.join(sorted(known))}"
        raise Problem(
            Code.INVALID_PARAMETER, detail, errors=[{"parameter": "oxides", "detail": detail}]
        )
    found = melting_of(asked.reference, dict.fromkeys(query["oxides"]))
    document = {
        "oxides": list(found.oxides),
        "first_melt_possible_from": first_melt(found.first, asked.output),
        "reacts": [
            {
                **shapes.phase(asked, liquid.phase),
                "most_liquid": liquid.most_liquid,
                "unverified": liquid.unverified,
            }
            for liquid in found.reacts
        ],
    }
    return answer(asked, {**document, **asked.envelope()})
