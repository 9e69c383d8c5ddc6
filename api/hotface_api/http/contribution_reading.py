"""From the body of a contribution to the ledger's drafts, and from its faults back to the body.

Nothing here knows a request: pages read their forms by the same functions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import marshmallow as ma

from hotface_api.http.contribution_schemas import (
    CorrectionBody,
    SpecimenSubmissionBody,
    SubmissionBody,
    ValueBody,
)
from hotface_api.http.parameters import body_faults
from hotface_api.ledger.drafts import SubmissionDraft, UnreadDraft, ValueDraft
from hotface_api.ledger.errors import ConflictError, Fault, InvalidError
from hotface_api.ledger.submit import ItemReceipt, Receipt

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "in_body",
    "places_in",
    "read_correction",
    "read_submission",
    "read_value",
    "receipt_places",
]

Body = Mapping[str, Any]
_SUBMISSION: Final = SubmissionBody()
_SPECIMEN: Final = SpecimenSubmissionBody()
_CORRECTION: Final = CorrectionBody()
_VALUE: Final = ValueBody()
_OWN: Final = ("specimen", "instrument", "date")
_SPANS: Final = ("grain_size", "specimen_density")
_CONDITION: Final = (
    "form",
    "state",
    "fill",
    "event_kind",
    "treatment_temperature",
    "reference_temperature",
    "duration",
    "age",
    "moisture",
    "with",
    "place",
    "load",
    "atmosphere",
    "direction",
)
_PLACES: Final[Mapping[str, tuple[str, ...]]] = {
    **{end: ("printed", end) for end in ("low", "typical", "high")},
    "unit": ("printed", "unit"),
    "printed_unit": ("printed", "unit"),
    "temperature_low": ("temperature", "low"),
    "temperature_high": ("temperature", "high"),
    **{name: ("condition", name) for name in _CONDITION},
    **{f"{name}_{end}": ("condition", name, end) for name in _SPANS for end in ("low", "high")},
    "condition_text": ("condition", "text"),
}
"""Where in a value of a body stands what the ledger's draft keeps flat."""


def read_value(given: Any) -> ValueDraft | UnreadDraft:
    """Read one value of a body; what cannot be read is in the draft's faults."""
    if not isinstance(given, Mapping):
        return UnreadDraft((Fault("", "must be an object"),))
    try:
        draft: ValueDraft = _VALUE.load(given)
    except ma.ValidationError as error:
        return UnreadDraft(tuple(_faults(error.messages)))
    return draft


def read_submission(body: Body, *, specimen: bool = False) -> SubmissionDraft:
    """Read the body of ``POST /v1/values``, or of ``/v1/specimens``.

    Parameters
    ----------
    body : mapping
        JSON as parsed.
    specimen : bool
        Whether a specimen comes with it.

    Returns
    -------
    SubmissionDraft
        Single values that cannot be read stand in it as ``UnreadDraft``: the ledger tells their
        faults beside those of the others.

    Raises
    ------
    InvalidError
        With every fault, if the frame round the values cannot be read; pointers into the body.
    """
    schema = _SPECIMEN if specimen else _SUBMISSION
    try:
        loaded = schema.load(body)
    except ma.ValidationError as error:
        faults = _faults(error.messages)
        values = body.get("values")
        if not any(fault.pointer.startswith("/values") for fault in faults):
            for index, each in enumerate(values if isinstance(values, list) else ()):
                draft = read_value(each)
                if isinstance(draft, UnreadDraft):
                    faults += _below(f"/values/{index}", draft.faults)
        raise InvalidError(faults) from error
    loaded["values"] = tuple(read_value(each) for each in loaded["values"])
    return SubmissionDraft(**loaded)


def read_correction(body: Body) -> tuple[ValueDraft, str]:
    """Read the body of a correction: the new value and the reason.

    Raises
    ------
    InvalidError
    """
    faults: list[Fault] = []
    reason = ""
    try:
        reason = _CORRECTION.load(body)["reason"]
    except ma.ValidationError as error:
        faults += _faults(error.messages)
    told = any(fault.pointer == "/value" for fault in faults)
    draft = None if told else read_value(body.get("value"))
    if isinstance(draft, UnreadDraft):
        faults += _below("/value", draft.faults)
    if faults or not isinstance(draft, ValueDraft):
        raise InvalidError(faults)
    return draft, reason


def _below(place: str, faults: Iterable[Fault]) -> list[Fault]:
    return [replace(fault, pointer=place + fault.pointer) for fault in faults]


def _faults(messages: Any) -> list[Fault]:
    return [Fault(place.removeprefix("#"), detail) for place, detail in body_faults(messages)]


def places_in(body: Body, faults: Iterable[Fault], value_at: str = "/values/") -> tuple[Fault, ...]:
    """Point the ledger's faults at the members of the body they are about.

    Parameters
    ----------
    body : mapping
    faults : iterable of Fault
        As the ledger tells them.
    value_at : str
        Where values stand: ``/values/`` before an index, or ``/value`` for the one of a correction.
    """
    return tuple(replace(fault, pointer=_place(body, fault.pointer, value_at)) for fault in faults)


def _place(body: Body, pointer: str, value_at: str) -> str:
    steps = pointer.split("/")[1:]
    start = 0
    if value_at == "/values/" and steps[:1] == ["values"]:
        start = 2
    elif value_at == "/value":
        if steps[:1] not in (["reason"], ["value"]):
            steps = ["value", *steps]
        start = 1
    of_unit = start > 0 and steps[start:] == ["unit"]
    steps = [*steps[:start], *_renamed(steps[start:], in_value=start > 0)]
    if of_unit and _at(body, [*steps[:-1], "code"]) is not None:
        steps[-1] = "code"  # the unit was read from the code given with it
    return "".join(f"/{step}" for step in _existing(body, steps))


def _at(body: Any, steps: Sequence[str]) -> Any:
    """Give what stands at a path of a body, or None."""
    for step in steps:
        if isinstance(body, Mapping):
            body = body.get(step)
        elif isinstance(body, list) and step.isdigit() and int(step) < len(body):
            body = body[int(step)]
        else:
            return None
    return body


def _renamed(steps: Sequence[str], *, in_value: bool) -> list[str]:
    """Name the members of a value as the body does."""
    if not steps:
        return []
    if in_value and steps[0] in _PLACES:
        return [*_PLACES[steps[0]], *steps[1:]]
    if steps[0] in ("source", "quoted_in") and len(steps) > 1 and steps[1] in _OWN:
        return [steps[0], "own_measurement", *steps[1:]]
    return list(steps)


def _existing(body: Any, steps: Sequence[str]) -> list[str]:
    """Cut a path where the body stops having parts: a text or a quantity in place of an object."""
    found: list[str] = []
    here = body
    for step in steps:
        if isinstance(here, Mapping):
            if "value" in here and step in ("low", "high"):
                break
            found.append(step)
            here = here.get(step, {})
        elif isinstance(here, list) and step.isdigit() and int(step) < len(here):
            found.append(step)
            here = here[int(step)]
        else:
            break
    return found


@contextmanager
def in_body(body: Body, value_at: str = "/values/") -> Iterator[None]:
    """Let what the ledger refuses point into the body.

    Raises
    ------
    InvalidError, ConflictError
    """
    try:
        yield
    except InvalidError as error:
        raise InvalidError(places_in(body, error.faults, value_at)) from error
    except ConflictError as error:
        if error.pointer:
            error.pointer = _place(body, error.pointer, value_at)
        raise


def receipt_places(body: Body, receipt: Receipt) -> Receipt:
    """Let the faults of a receipt's items point into the body."""
    items: list[ItemReceipt] = [
        replace(item, faults=places_in(body, item.faults)) if item.faults else item
        for item in receipt.items
    ]
    return replace(receipt, items=tuple(items))
