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

__all__ = ["HOMES", "as_text", "batch_result", "build", "items_of", "public", "read"]

T = TypeVar("T")
_FIRST_ERROR: Final = 400

_MODULES: Final[dict[str, tuple[str, ...]]] = {
    "_about": ("ProblemKind", "ServiceCard"),
    "_casting": ("Casting", "Drying", "DryingStep", "Practice", "Weighing"),
    "_client": ("Client",),
    "_curves": (
        "Curve",
        "CurveFunction",
    ),
    "_decode": ("Row",),
    "_draws": ("Draws",),
    "_entries": (
        "Entry",
        "KeyCard",
        "Remark",
        "Standing",
    ),
    "_errors": (
        "BadContribution",
        "BadMixFile",
        "BadQuantity",
        "Conflict",
        "ConnectionFailed",
        "Gone",
        "HotfaceError",
        "InvalidRequest",
        "KeyNeeded",
        "KeyRefused",
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
        "Stale",
        "Unavailable",
        "VersionNeeded",
    ),
    "_estimate": ("Estimate",),
    "_estimate_parts": (
        "Assumption",
        "ClosestClass",
        "Composition",
        "DoubtShare",
        "EstimateState",
        "MixShare",
        "NearSpecimen",
        "ServiceLimit",
        "StrengthClass",
        "Validation",
    ),
    "_functions": ("CurveFunction",),
    "_lookups": (
        "ConeFiring",
        "ConeMatch",
        "ConeReading",
        "Melting",
        "PhasePoint",
    ),
    "_materials": (
        "HeldProperty",
        "Material",
        "MaterialProperty",
        "MaterialSummary",
    ),
    "_measured": ("Measured",),
    "_mix": (
        "Constituent",
        "Mix",
    ),
    "_pages": ("Pages",),
    "_properties": (
        "Derivation",
        "LeftOut",
        "OtherRange",
        "PropertyAnswer",
        "UsedValue",
    ),
    "_quantities": (
        "Figure",
        "QuantityLike",
    ),
    "_ranges": (
        "Magnitudes",
        "Range",
    ),
    "_receipts": (
        "Agreement",
        "Fault",
        "Receipt",
        "ReceiptItem",
        "Slip",
        "TableReport",
        "TableRow",
        "Told",
    ),
    "_records": (
        "Caution",
        "Condition",
        "Printed",
        "PropertyDefinition",
        "Revision",
        "Source",
        "Specimen",
        "SpecimenPart",
        "Value",
    ),
    "_reported": (
        "NewMaterial",
        "NewSpecimen",
        "Reported",
        "ReportedSource",
        "Uncertainty",
        "bibtex",
        "csl",
        "doi",
        "held_source",
        "own_measurement",
    ),
    "_request": ("EstimateRequest",),
    "_retry": ("RetryPolicy",),
    "_search": (
        "MixSearch",
        "Musts",
        "OnHand",
        "WorthTrying",
    ),
    "_tables": ("ClassLimit", "Cone", "Held", "Holding", "Missing", "Phase", "Standard"),
    "_survival": (
        "LimitEvent",
        "MeltPoint",
        "Question",
        "Survival",
    ),
    "_transport": (
        "HTTPTransport",
        "Request",
        "Response",
        "Transport",
    ),
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
            f"the answer does not hold what this hotface expects ({error}): if a hotface service is"
            " at this address, update it or install the hotface version that belongs to it; if not,"
            " give the right address"
        ) from error


def items_of(data: Mapping[str, Any], name: str = "items") -> list[Any]:
    """Give a list that an answer holds.

    Raises
    ------
    OldServer
        If it is missing or no list.
    """
    return build(_list_in, data, name)


def _list_in(data: Mapping[str, Any], name: str) -> list[Any]:
    found = data[name]
    if not isinstance(found, list):
        raise TypeError(f"{name!r} is no list")
    return found


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
    status = build(lambda one: int(one["status"]), result)
    if status >= _FIRST_ERROR:
        raise problem_error(status, build(lambda one: dict(one["problem"]), result), index=place)
    return make(build(lambda one: dict(one[part]), result))
