"""Requests nobody thought of: generated from the OpenAPI document and held against it."""

from __future__ import annotations

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis import checks as known
from schemathesis.specs.openapi import checks as openapi_checks

from hotface_api.http import openapi
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


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    with small_database("sqlite", tmp_path_factory.mktemp("fuzz")) as database:
        yield schemathesis.openapi.from_wsgi("/v1/openapi.json", app_of(database))


CASES = [
    (path, method, mode)
    for path, method in OPERATIONS
    for mode in GenerationMode
    if mode is GenerationMode.POSITIVE or "problems" not in path  # these take nothing to get wrong
]


@pytest.mark.parametrize(("path", "method", "mode"), CASES)
def test_every_operation_keeps_to_the_document(schema, path, method, mode):
    # in a batch what is wrong with one item is that item's own result, and the whole is 200
    checks = CHECKS if method == "POST" else [*CHECKS, openapi_checks.negative_data_rejection]

    @given(case=schema[path][method].as_strategy(generation_mode=mode))
    @settings(
        max_examples=8,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def hold(case):
        case.call_and_validate(checks=checks)

    hold()
