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
from hotface_api.http.mix_schemas import (
    MAX_DRAWS,
    EstimateBody,
    EstimateRequestSchema,
    estimate_request,
)
from hotface_api.http.operations import Topic, computes
from hotface_api.http.parameters import DatedQuery, body_problem
from hotface_api.http.problems import Code, Problem
from hotface_api.http.rates import spend
from hotface_api.http.routes.survival import mix_problem
from hotface_api.mixes.estimate import estimate, estimate_many
from hotface_api.mixes.request import EstimateRequest, MixError

__all__ = ["check_data", "topic"]

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
    "mould": {"volume": {"value": 12, "unit": "L"}, "spare": 0.1},
    "coverage": 0.9,
    "seed": 1,
}


_LARGEST: Final = 8 * 1024 * 1024
"""Bytes of a body: a thousand mixes, each with own figures of every constituent."""
_MIXES_A_WEIGHT: Final = 5
"""Mixes of a batch that weigh one towards the rate limit: side by side they cost less to ask."""
_ONE: Final = EstimateRequestSchema()
_NEEDED: Final = (
    "bound_water",
    "bulk_density",
    "loose_bulk_density",
    "specific_heat_capacity",
    "thermal_conductivity",
    "true_density",
)


def check_data(asked: Asked) -> None:
    """Refuse to estimate from data that do not know what an estimate is made of.

    Raises
    ------
    Problem
        ``not_ready``.
    """
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
        return estimate_request(_ONE.load(given))
    except ValidationError as error:
        return body_problem(error.messages, "mixes", index)


def _check_draws(requests: Sequence[EstimateRequest]) -> None:
    """Keep the draws of a batch to what an answer can carry."""
    total = sum(each.returned_draws for each in requests)
    if total > MAX_DRAWS:
        detail = (
            f"the draws of one call add up to at most {MAX_DRAWS:,}, not {total:,}; ask for fewer,"
            " or in several calls"
        )
        errors = [{"detail": detail, "pointer": "#/mixes"}]
        raise Problem(Code.INVALID_BODY, f"#/mixes: {detail}", errors=errors)


def _batch(
    connection: Connection, asked: Asked, bodies: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Answer several requests in order, each with its own status."""
    read = [_read(given, index) for index, given in enumerate(bodies)]
    sound = [each for each in read if isinstance(each, EstimateRequest)]
    _check_draws(sound)
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
    " leave, heat capacity, strength class and service limit of a mix given by the bucket, the"
    " kilogram or the part, as intervals from seeded draws; with what was assumed and what to"
    " measure next. Tell what you measured and the intervals narrow; name a mould and the answer"
    " says how much to mix; ask for draws to calculate on with them. Up to a thousand requests go"
    " under `mixes` and come back in order under `results`, each with its own status and the"
    " numbers it has alone.",
    asks=_EXAMPLE,
    limit=_LARGEST,
)
def post_estimates(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Estimate one mix or several."""
    asked = ask(query)
    check_data(asked)
    with service().database.read() as connection:
        if "mixes" in body:
            spend(len(body["mixes"]) // _MIXES_A_WEIGHT)
            document: Any = {"results": _batch(connection, asked, body["mixes"])}
        else:
            document = _single(connection, asked, body)
    return plain_answer(asked, document)
