"""Mix searches: which mixes of what is on hand are worth trying."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from flask import Response, request

from hotface_api.http import search_dumps
from hotface_api.http.callers import caller
from hotface_api.http.carried import EMBEDDED, PROGRESS
from hotface_api.http.conditional import plain_answer
from hotface_api.http.context import ask, raw_body, service
from hotface_api.http.operations import Topic, computes
from hotface_api.http.parameters import DatedQuery
from hotface_api.http.problems import Code, Problem
from hotface_api.http.routes.estimates import check_data
from hotface_api.http.routes.survival import mix_problem
from hotface_api.http.search_schemas import SearchBody, SearchShape, search_request
from hotface_api.mixes.request import MixError
from hotface_api.mixes.search import MAX_CANDIDATES, search

__all__ = ["check_size", "topic"]

topic = Topic(
    "mix-searches",
    __name__,
    url_prefix="/v1",
    description="Mixes worth trying, of what is on hand.",
)
_FOR_ANYBODY: Final = 20_000
_WITH_A_KEY: Final = 100_000
"""Most candidates looked at for a caller over the network."""
_EXAMPLE: Final = {
    "on_hand": [
        {"material": "cac-40", "share": {"low": 0.15, "high": 0.6}},
        {"material": "expanded-clay", "share": {"high": 0.8}},
        {"material": "expanded-perlite", "share": {"high": 0.5}},
        {"material": "fireclay", "share": {"high": 0.25}},
    ],
    "shares_by": "mass",
    "musts": {
        "density_below": {"value": 1200, "unit": "kg/m3"},
        "conductivity_below": {"value": 0.4, "unit": "W/(m.K)"},
        "conductivity_at": {"value": 600, "unit": "Cel"},
    },
    "wishes": ["conductivity", "binder"],
    "state": {"kind": "fired", "temperature": {"value": 1000, "unit": "Cel"}},
    "candidates": 5000,
    "results": 3,
}


def check_size(candidates: int) -> None:
    """Keep large searches off a service that many share.

    Raises
    ------
    Problem
        ``larger_search``.
    """
    if request.environ.get(EMBEDDED):
        return
    most = _FOR_ANYBODY if caller() is None else _WITH_A_KEY
    if candidates <= most:
        return
    keyed = f", with a key {_WITH_A_KEY:,}" if most < _WITH_A_KEY else ""
    detail = (
        f"at most {most:,} candidates are looked at here{keyed}; the command line and the embedded"
        f" service take up to {MAX_CANDIDATES:,}"
    )
    errors = [{"detail": detail, "pointer": "#/candidates"}]
    raise Problem(Code.LARGER_SEARCH, detail, errors=errors)


@computes(
    topic,
    "/mix-searches",
    DatedQuery,
    SearchBody,
    SearchShape,
    summary="Search for mixes worth trying",
    description="Draws mixes of the materials on hand within the bounds of their shares, gives each"
    " the water its fines and grains need, and keeps those that meet every must and that no other"
    " beats in every wish. Each is returned with its full estimate and the request that gives it"
    " again. The same search with the same seed gives the same answer.",
    asks=_EXAMPLE,
    weight="search",
    statuses=(Code.LARGER_SEARCH.status,),
)
def post_mix_searches(query: dict[str, Any], body: dict[str, Any]) -> Response:
    """Search for mixes worth trying."""
    asked = ask(query)
    check_data(asked)
    wanted = search_request(body)
    check_size(wanted.candidates)
    progress: Callable[[int, int], None] | None = request.environ.get(PROGRESS)
    try:
        with service().database.read() as connection:
            found = search(connection, asked.reference, wanted, progress)
    except MixError as error:
        raise mix_problem(error) from error
    return plain_answer(asked, search_dumps.search(asked, raw_body(), wanted, found))
