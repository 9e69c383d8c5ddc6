"""Fields of contributed values: figures as printed, spans, sources, words the ledger judges.

They hold a body to its form and leave its sense to the ledger: whether a word is of the list, a
DOI is one or a material is held is told there, once for every door.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

import marshmallow as ma

from hotface.units import MAX_QUANTITY_LENGTH, MAX_UNIT_LENGTH, UnitError
from hotface_api.http.problems import nearest
from hotface_api.http.quantities import QUANTITY, QuantityField, read_quantity, with_hint
from hotface_api.http.reading import Reading
from hotface_api.ledger.drafts import (
    BibtexSource,
    CslSource,
    DoiSource,
    HeldSource,
    OwnMeasurement,
    SourceDraft,
)
from hotface_api.ledger.texts import SHORT
from hotface_api.store.vocabulary import SOURCE_TYPES

__all__ = [
    "Figure",
    "Listed",
    "Optional",
    "Said",
    "SourceField",
    "SpanField",
    "Strict",
    "unknown_member",
]

_NULL: Final = {"type": "null"}
_FIGURE: Final = r"^[+-]?[0-9]{1,30}(\.[0-9]{1,30})?([eE][+-]?[0-9]{1,3})?$"
_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_KINDS: Final = ("id", "doi", "csl", "bibtex", "own_measurement")
_TYPED: Final = ("doi", "csl", "bibtex")
_OWN: Final = ("specimen", "instrument", "date")
_LONGEST_BIBTEX: Final = 20_000


def unknown_member(name: str, known: Sequence[str]) -> str:
    """Say that an object has no such member, and which one may be meant."""
    close = nearest(name, known, 1)
    hint = f"did you mean {close[0]!r}?" if close else f"known: {', '.join(known)}"
    return f"there is no such member; {hint}"


class Strict(ma.Schema):
    """An object of a body; what it does not know it refuses, naming the nearest it does."""

    def handle_error(
        self,
        error: ma.ValidationError,
        data: Any,  # noqa: ARG002 - the framework's signature
        *,
        many: bool,  # noqa: ARG002
        **kwargs: Any,  # noqa: ARG002
    ) -> None:
        """Tell of each unknown member what it may be."""
        if not isinstance(error.messages, dict):
            return
        known = {field.data_key or name for name, field in self.fields.items()}
        for name in error.messages:
            if name not in known and name != "_schema":
                error.messages[name] = [unknown_member(str(name), sorted(known))]


class Said(Reading[str]):
    """A text that the ledger judges; ``choices`` only document the words it will take."""

    def __init__(
        self, choices: Sequence[str] = (), *, longest: int = SHORT, needed: bool = False, **kw: Any
    ) -> None:
        if needed:
            kw["error_messages"] = {"required": "this is needed"}
        super().__init__(required=needed, allow_none=not needed, **kw)
        self.choices = tuple(choices)
        self.longest = longest

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        if self.choices:
            words = list(self.choices) if self.required else [*self.choices, None]
            return {"enum": words}
        kind: Any = "string" if self.required else ["string", "null"]
        return {"type": kind, "maxLength": self.longest}

    def read(self, value: Any) -> str:
        """Read a text of any length; the ledger tells one that is too long."""
        if not isinstance(value, str):
            raise ma.ValidationError("must be a text")
        return value


class Figure(Reading[str]):
    """A figure as printed: text, because 0.30 is more than 0.3 says and 1e3 is not 1000."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_none=True, **kwargs)

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"type": ["string", "null"], "pattern": _FIGURE}

    def read(self, value: Any) -> str:
        """Read a figure; the ledger tells one that is no number."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            raise ma.ValidationError(
                f'write the figure as text, just as printed: "{value!r:.40}", not {value!r:.40}'
            )
        if not isinstance(value, str):
            raise ma.ValidationError("must be a text, the figure just as printed")
        return value


class Optional(QuantityField):
    """A quantity that may be null, as served values have it."""

    def __init__(self, dimension: str, **kwargs: Any) -> None:
        super().__init__(dimension, allow_none=True, **kwargs)

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        return {"anyOf": [*super().schema()["anyOf"], _NULL]}


class SpanField(Reading[tuple[float | None, float | None]]):
    """Two ends in one unit, or one quantity; loaded as two SI numbers.

    Parameters
    ----------
    dimension : str
    point : bool
        Whether it is a temperature point.
    """

    def __init__(self, dimension: str, *, point: bool = False, **kwargs: Any) -> None:
        super().__init__(allow_none=True, **kwargs)
        self._dimension = dimension
        self._point = point

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        ends = {name: {"type": ["number", "null"]} for name in ("low", "high")}
        span = {
            "type": "object",
            "properties": {**ends, "unit": {"type": "string", "maxLength": MAX_UNIT_LENGTH}},
            "required": ["unit"],
            "additionalProperties": False,
        }
        text = {"type": "string", "maxLength": MAX_QUANTITY_LENGTH}
        return {"anyOf": [span, QUANTITY, text, _NULL]}

    def read(self, value: Any) -> tuple[float | None, float | None]:
        """Read two ends, or one figure as both."""
        if not isinstance(value, dict) or "value" in value:
            one = self._one(value)
            return one, one
        odd = sorted(set(value) - {"low", "high", "unit"})
        if odd:
            raise ma.ValidationError({odd[0][:SHORT]: [unknown_member(odd[0], _ENDS)]})
        ends = [value.get("low"), value.get("high")]
        if ends == [None, None]:
            raise ma.ValidationError("give low, high or both, and their unit")
        low, high = (
            None if end is None else self._one({"value": end, "unit": value.get("unit")})
            for end in ends
        )
        return low, high

    def _one(self, given: Any) -> float:
        try:
            kind = "point" if self._point else None
            return read_quantity(given, self._dimension, temperature=kind)[0]  # type: ignore[arg-type]
        except UnitError as error:
            raise ma.ValidationError(with_hint(error)) from error


_ENDS: Final = ("low", "high", "unit")


class Listed(Reading[tuple[str, ...]]):
    """A list of texts, or one text with semicolons between."""

    def __init__(self, most: int = 20, **kwargs: Any) -> None:
        super().__init__(allow_none=True, **kwargs)
        self._most = most

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        item = {"type": "string", "maxLength": SHORT}
        return {"type": ["array", "null"], "items": item, "maxItems": self._most}

    def read(self, value: Any) -> tuple[str, ...]:
        """Read the texts."""
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise ma.ValidationError("must be a list of texts")
        if len(value) > self._most:
            raise ma.ValidationError(f"at most {self._most} texts")
        if any(";" in each for each in value):
            raise ma.ValidationError("a name holds no semicolon")
        return tuple(value)


def _object(properties: Mapping[str, Any], *required: str) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": dict(properties),
        "required": list(required),
        "additionalProperties": False,
    }


class SourceField(Reading[SourceDraft]):
    """Where a figure stands: a held id, a DOI, CSL-JSON, BibTeX, or one's own measurement."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_none=True, **kwargs)

    def schema(self) -> dict[str, Any]:
        """Describe it in JSON Schema."""
        text = {"type": "string", "maxLength": SHORT}
        kind = {"source_type": {"enum": [*SOURCE_TYPES, None]}}
        day = {"type": "string", "format": "date"}
        own = {"specimen": text, "instrument": text, "date": day}
        bibtex = {"type": "string", "maxLength": _LONGEST_BIBTEX}
        return {
            "anyOf": [
                text,
                _object({"id": text}, "id"),
                _object({"doi": text, **kind}, "doi"),
                _object({"csl": {"type": "object"}, **kind}, "csl"),
                _object({"bibtex": bibtex, **kind}, "bibtex"),
                _object({"own_measurement": _object(own, *own)}, "own_measurement"),
                _NULL,
            ]
        }

    def read(self, value: Any) -> SourceDraft:
        """Read a source of one of the five kinds."""
        if isinstance(value, str):
            return HeldSource(value)
        if not isinstance(value, dict):
            raise ma.ValidationError(f"a source is a held id, or an object with one of {_LISTED}")
        given = [kind for kind in _KINDS if value.get(kind) is not None]
        if len(given) != 1:
            raise ma.ValidationError(f"give one of {_LISTED}")
        kind = given[0]
        known = (*_KINDS, "source_type") if kind in _TYPED else _KINDS
        for name in value:
            if name not in known:
                raise ma.ValidationError({name[:SHORT]: [unknown_member(name, known)]})
        return self._of_kind(kind, value[kind], value.get("source_type"))

    def _of_kind(self, kind: str, content: Any, source_type: Any) -> SourceDraft:
        if kind == "own_measurement":
            return own_measurement(content)
        if kind == "csl":
            if not isinstance(content, dict):
                raise ma.ValidationError({kind: ["must be one CSL-JSON item, an object"]})
            return CslSource(content, source_type)
        if not isinstance(content, str):
            raise ma.ValidationError({kind: ["must be a text"]})
        if kind == "id":
            return HeldSource(content)
        return (
            DoiSource(content, source_type)
            if kind == "doi"
            else (BibtexSource(content, source_type))
        )


_LISTED: Final = ", ".join(_KINDS)


def own_measurement(content: Any, place: str = "own_measurement") -> OwnMeasurement:
    """Read what was measured, with what and when.

    Raises
    ------
    marshmallow.ValidationError
    """
    if not isinstance(content, dict):
        raise ma.ValidationError({place: [f"must be an object with {', '.join(_OWN)}"]})
    faults: dict[str, list[str]] = {}
    for name in content:
        if name not in _OWN:
            faults[str(name)[:SHORT]] = [unknown_member(str(name), _OWN)]
    for name in _OWN:
        if not isinstance(content.get(name), str):
            faults[name] = ["this is needed, as text"]
    day = _day(content.get("date"))
    if "date" not in faults and day is None:
        faults["date"] = ["the day of the measurement is needed, like 2026-11-20"]
    if faults or day is None:
        raise ma.ValidationError({place: faults})
    return OwnMeasurement(content["specimen"], content["instrument"], day)


def _day(text: Any) -> date | None:
    if not isinstance(text, str) or not _DAY.fullmatch(text):
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
