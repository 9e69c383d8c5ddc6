"""Answers held against the OpenAPI document, which then knows no member beyond those it names."""

from __future__ import annotations

import copy
from functools import cache

import jsonschema

from hotface_api.http import openapi


def closed(node):
    """Give a schema that knows no member beyond those it names, wherever it names any."""
    if isinstance(node, list):
        return [closed(member) for member in node]
    if not isinstance(node, dict):
        return node
    made = {key: closed(member) for key, member in node.items()}
    if "properties" in made and made.get("type") == "object":
        made.setdefault("additionalProperties", False)
    return made


@cache
def document():
    """Give the document, made once."""
    return openapi.document()


@cache
def _strict():
    return closed(copy.deepcopy(document()["components"]))


def operation(name):
    """Find an operation by its id."""
    operations = (each for item in document()["paths"].values() for each in item.values())
    return next(each for each in operations if _is(each, name))


def _is(each, name):
    return isinstance(each, dict) and each.get("operationId") == name


def hold(schema, instance):
    """Hold an instance against a schema of the document, with its closed components."""
    whole = {**closed(schema), "components": _strict()}
    errors = jsonschema.Draft202012Validator(whole).iter_errors(instance)
    worst = jsonschema.exceptions.best_match(errors)
    assert worst is None, f"{worst.json_path}: {worst.message[:400]}"


def hold_answer(name, response):
    """Hold an answer against what the document says of its operation, status and fields."""
    told = operation(name)["responses"][str(response.status_code)]
    hold(told["content"][response.mimetype]["schema"], response.get_json())
    return response.get_json()
