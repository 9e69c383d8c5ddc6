"""Requests nobody thought of: generated from the OpenAPI document and held against it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, NamedTuple

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis import checks as known
from schemathesis.specs.openapi import checks as openapi_checks

from hotface_api.http import openapi
from support.contributions import found_club
from support.small import app_of, small_database

OPERATIONS = [
    (path, method.upper())
    for path, item in openapi.document()["paths"].items()
    for method in item
    if method in ("get", "post")
]

CHECKS = [
    known.not_a_server_error,
    openapi_checks.status_code_conformance,
    openapi_checks.content_type_conformance,
    openapi_checks.response_schema_conformance,
    openapi_checks.response_headers_conformance,
    openapi_checks.unsupported_method,
]
"""Not `positive_data_acceptance`: ids, units and cursors have meanings no schema can tell."""


class Fuzzed(NamedTuple):
    """The document's operations, and what each caller sends with them."""

    schema: Any
    keys: dict[str, str]


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory):
    with small_database("sqlite", tmp_path_factory.mktemp("fuzz")) as database:
        club = found_club(database, clock=lambda: datetime.now(UTC))
        schema = schemathesis.openapi.from_wsgi("/v1/openapi.json", app_of(database))
        keys = {name: {"Authorization": f"Bearer {club.tokens[n]}"} for name, n in WHO.items()}
        yield Fuzzed(schema, keys)


WHO = {"contributor": 0, "curator": 2}
KEYED = {
    (path, method.upper())
    for path, item in openapi.document()["paths"].items()
    for method, operation in item.items()
    if "security" in operation
}


def callers(path, method):
    """Give who asks: nobody of a read, all of what needs a key."""
    return ("nobody", "contributor", "curator") if (path, method) in KEYED else ("nobody",)


CASES = [
    (path, method, mode, who)
    for path, method in OPERATIONS
    for who in callers(path, method)
    for mode in GenerationMode
    if mode is GenerationMode.POSITIVE or "problems" not in path  # these take nothing to get wrong
    if mode is GenerationMode.POSITIVE or who != "nobody" or (path, method) not in KEYED
]


@pytest.mark.parametrize(("path", "method", "mode", "who"), CASES)
def test_every_operation_keeps_to_the_document(fuzzed, path, method, mode, who):
    # in a batch what is wrong with one item is that item's own result, and the whole is 200
    checks = CHECKS if method == "POST" else [*CHECKS, openapi_checks.negative_data_rejection]

    headers = fuzzed.keys.get(who, {})

    @given(case=fuzzed.schema[path][method].as_strategy(generation_mode=mode))
    @settings(
        max_examples=8,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def hold(case):
        case.call_and_validate(checks=checks, headers=headers)

    hold()
