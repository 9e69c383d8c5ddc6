"""Estimates: what a mix will weigh, insulate and stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import Response
from marshmallow import ValidationError
from sqlalchemy import Connection

from hotface_api.http import mix_dumps
from hotface_api.http.conditional import plain_answer
from hotface_api.http.context import Asked, ask, raw_body, service
from hotface_api.http.estimate_schemas import EstimateResults, EstimateShape
from hotface_api.http.mix_schemas import EstimateBody, EstimateRequestSchema, estimate_request
from hotface_api.http.operations import Topic, computes
from hotface_api.http.parameters import DatedQuery, body_problem
from hotface_api.http.problems import Code, Problem
from hotface_api.http.routes.survival import mix_problem
from hotface_api.mixes.estimate import estimate, estimate_many
from hotface_api.mixes.request import EstimateRequest, MixError

__all__ = ["topic"]

topic = Topic("estimates", __name__, url_prefix="/v1", description="The composite of a mix.")
_EXAMPLE = {
    "mix": {
        "constituents": [
            {"material": "cac-40", "amount": {"value": 25, "unit": "kg"}},
            {
                "material": "expanded-clay",
                "amount": {"value": 60, "unit": "L"},
                "measured_as": "loose",
                "fill": "poured",
            },
        ],
        "water": {"value": 11, "unit": "L"},
    },
    "state": {"kind": "fired", "temperature": {"value": 1000, "unit": "Cel"}},
    "at": [{"value": 200, "unit": "Cel"}, {"value": 600, "unit": "Cel"}],
    "measured": {"bulk_density": {"value": 1150, "unit": "kg/m3"}},
    "coverage": 0.9,
    "seed": 1,
}


_NEEDED: Final = (
    "bound_water",
    "bulk_density",
    "loose_bulk_density",
    "specific_heat_capacity",
    "thermal_conductivity",
    "true_density",
)


def _check_data(asked: Asked) -> None:
    """Refuse to estimate from data that do not know what an estimate is made of."""
    missing = [name for name in _NEEDED if name not in asked.reference.properties]
    if missing:
        raise Problem(
            Code.NOT_READY,
            f"the data loaded here hold no property {', '.join(missing)}, which estimates rest on;"
            " load the whole package with `hotface load`",
            headers={"Retry-After": "5"},
        )


def _read(given: Mapping[str, Any], index: int) -> EstimateRequest | Problem:
    """Read one of several requests; what is wrong with it is its own result."""
    try:
        return estimate_request(EstimateRequestSchema().load(given))
    except ValidationError as error:
        return body_problem(error.messages, "mixes", index)


def _batch(
    connection: Connection, asked: Asked, bodies: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Answer several requests in order, each with its own status."""
    read = [_read(given, index) for index, given in enumerate(bodies)]
    sound = [each for each in read if isinstance(each, EstimateRequest)]
    found = iter(estimate_many(connection, asked.reference, sound))
    results = []
    for index, each in enumerate(read):
        made = each if isinstance(each, Problem) else next(found)
        if isinstance(made, MixError):
            made = mix_problem(made, "mixes", index)
        if isinstance(made, Problem):
            results.append({"status": made.code.status, "problem": made.document()})
        else:
            shape = mix_dumps.estimate(asked, made, bodies[index]["mix"])
            results.append({"status": 200, "estimate": shape})
    return results


def _single(connection: Connection, asked: Asked, body: Mapping[str, Any]) -> dict[str, Any]:
    try:
        found = estimate(connection, asked.reference, estimate_request(body))
    except MixError as error:
        raise mix_problem(error) from error
    return mix_dumps.estimate(asked, found, raw_body()["mix"])


@computes(
    topic,
    "/estimates",
    DatedQuery,
    EstimateBody,
    EstimateShape,
    also=EstimateResults,
    summary="Estimate a mix",
    description="Density by state, porosity, yield, conductivity with bounds no arrangement can"
    " leave, heat capacity and service limit of a mix given by the bucket, the kilogram or the"
    " part, as intervals from seeded draws; with what was assumed and what to measure next. Several"
    " requests go under `mixes` and come back in order under `results`, each with its own status.",
    asks=_EXAMPLE,
)
def post_estimates(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Estimate one mix or several."""
    asked = ask(query)
    _check_data(asked)
    with service().database.read() as connection:
        if "mixes" in body:
            document: Any = {"results": _batch(connection, asked, body["mixes"])}
        else:
            document = _single(connection, asked, body)
    return plain_answer(asked, document)
