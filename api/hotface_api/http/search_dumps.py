"""Mix searches as JSON; each mix is written so that an estimate of it can be asked again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hotface_api.http import mix_dumps
from hotface_api.http.context import Asked
from hotface_api.http.quantities import Output
from hotface_api.mixes.request import EstimateRequest
from hotface_api.mixes.search import SearchRequest, SearchResult

__all__ = ["estimate_body", "search"]

Shape = dict[str, Any]


def _temperatures(given: Mapping[str, Any], asked: SearchRequest) -> dict[float, Any]:
    """Give the temperatures of a search as they were written, by kelvin.

    Written anew from kelvins a temperature may differ in its last digit, and so may every draw.
    """
    written = dict(zip(asked.at, given.get("at", ()), strict=True))
    if asked.musts.conductivity_at is not None:
        written.setdefault(asked.musts.conductivity_at, given["musts"]["conductivity_at"])
    return written


def estimate_body(given: Mapping[str, Any], asked: SearchRequest, found: EstimateRequest) -> Shape:
    """Write the estimate of a mix that was found as one that can be asked again.

    Parameters
    ----------
    given : mapping
        The body of the search as it was sent.
    asked : SearchRequest
        What was read from it.
    found : EstimateRequest
        The mix with its shares and water.

    Returns
    -------
    dict
        Read again, it is ``found``.
    """
    told: dict[str, Mapping[str, Any]] = {each["material"]: each for each in given["on_hand"]}
    constituents = []
    for part in found.mix.constituents:
        more = {key: value for key, value in told[part.material].items() if key != "share"}
        constituents.append({**more, "amount": {"value": part.amount, "unit": "1"}})
    written, plain = _temperatures(given, asked), Output("si")
    return {
        "mix": {
            "constituents": constituents,
            "water": {"ratio_to_binder": found.mix.water},
            "parts_by": found.mix.parts_by,
        },
        "state": dict(given.get("state", {"kind": found.state.kind})),
        "at": [written.get(each) or plain.quantity("temperature", each) for each in found.at],
        "coverage": found.coverage,
        "seed": found.seed,
    }


def search(
    answered: Asked, given: Mapping[str, Any], asked: SearchRequest, result: SearchResult
) -> Shape:
    """Write what a search found."""
    bodies = [estimate_body(given, asked, each.request) for each in result.found]
    return {
        **answered.envelope(),
        "looked_at": result.looked_at,
        "met": dict(result.met),
        "reason": result.reason,
        "mixes": _worth_trying(answered, bodies, result),
    }


def _worth_trying(answered: Asked, bodies: Sequence[Shape], result: SearchResult) -> list[Shape]:
    return [
        {
            "mix": body["mix"],
            "request": body,
            "estimate": mix_dumps.estimate(answered, each.estimate, body["mix"]),
        }
        for body, each in zip(bodies, result.found, strict=True)
    ]
