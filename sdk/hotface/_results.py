"""Where each public name lives, and reading answers into results.

Result classes are loaded with the first answer of their kind: making forty frozen dataclasses costs
a third of importing requests, and most programs need a few of them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, Final, TypeVar

from hotface._errors import OldServer, problem_error

__all__ = ["HOMES", "as_text", "batch_result", "build", "public", "read"]

T = TypeVar("T")
_FIRST_ERROR: Final = 400

_MODULES: Final[dict[str, tuple[str, ...]]] = {
    "_client": ("Client",),
    "_curves": ("Curve", "CurveFunction"),
    "_decode": ("Row",),
    "_errors": (
        "BadMixFile",
        "BadQuantity",
        "Conflict",
        "ConnectionFailed",
        "HotfaceError",
        "InvalidRequest",
        "NoAnswer",
        "NotAllowed",
        "NotAnAnswer",
        "NotFound",
        "NotInstalled",
        "OldServer",
        "OutsideSpan",
        "ProblemError",
        "RateLimited",
        "ServerFault",
    ),
    "_estimate": ("Estimate",),
    "_estimate_parts": (
        "Assumption",
        "Composition",
        "DoubtShare",
        "MixShare",
        "NearSpecimen",
        "ServiceLimit",
        "StrengthClass",
    ),
    "_materials": ("HeldProperty", "Material", "MaterialProperty", "MaterialSummary"),
    "_mix": ("Constituent", "Mix"),
    "_pages": ("Pages",),
    "_properties": ("Derivation", "LeftOut", "OtherRange", "PropertyAnswer", "UsedValue"),
    "_quantities": ("Figure", "QuantityLike"),
    "_ranges": ("Magnitudes", "Range"),
    "_records": (
        "Caution",
        "Condition",
        "Holding",
        "Printed",
        "PropertyDefinition",
        "Revision",
        "Source",
        "Specimen",
        "SpecimenPart",
        "Value",
    ),
    "_request": ("EstimateRequest",),
    "_retry": ("RetryPolicy",),
    "_survival": ("LimitEvent", "MeltPoint", "Question", "Survival"),
    "_transport": ("HTTPTransport", "Request", "Response", "Transport"),
}
HOMES: Final = {name: module for module, names in _MODULES.items() for name in names}
"""Module of each public name."""


def public(name: str) -> Any:
    """Give a public name, loading its module."""
    return getattr(import_module(f"hotface.{HOMES[name]}"), name)


def build(make: Callable[..., T], *arguments: Any) -> T:
    """Build a result; an answer that lacks something comes from an older service.

    Raises
    ------
    OldServer
        If a field this SDK relies on is missing or of another kind.
    """
    try:
        return make(*arguments)
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise OldServer(
            f"the service's answer does not hold what this hotface expects ({error}): update the"
            " service, or install the hotface version that belongs to it"
        ) from error


def read(kind: str, *arguments: Any) -> Any:
    """Read an answer into the result class of a name."""
    return build(public(kind).from_json, *arguments)


def as_text(data: Mapping[str, Any]) -> str:
    """Write a part of an answer as the JSON it would be alone."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def batch_result(place: int, result: Any, part: str, make: Callable[[dict[str, Any]], T]) -> T:
    """Read one result of a batch.

    Raises
    ------
    ProblemError
        If the service could not answer it; ``index`` is its place.
    """
    status: int = build(lambda one: one["status"], result)
    if status >= _FIRST_ERROR:
        raise problem_error(status, build(lambda one: one["problem"], result), index=place)
    return make(build(lambda one: one[part], result))
