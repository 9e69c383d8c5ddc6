"""From JSON to frozen objects: a field is read by its name, and what is missing is told."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, TypeVar

from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._show import html_table

__all__ = ["Answered", "Row", "decode", "difference", "listed", "point", "span"]

T = TypeVar("T")
Reader = Callable[[Any], Any]


def decode(kind: type[T], document: Mapping[str, Any], **readers: Reader) -> T:
    """Fill a dataclass from a JSON object by field name; ``with_`` stands for ``with``."""
    chosen: dict[str, Any] = {}
    for one in fields(kind):  # type: ignore[arg-type]
        name = one.name.rstrip("_")
        optional = one.default is not MISSING or one.default_factory is not MISSING
        if optional and name not in document:
            continue
        raw = document[name]
        chosen[one.name] = readers[one.name](raw) if one.name in readers else raw
    return kind(**chosen)


def listed(read: Callable[[Any], T]) -> Callable[[Any], tuple[T, ...]]:
    """Make a reader of lists from a reader of items; ``null`` reads as empty."""
    return lambda raw: tuple(read(item) for item in raw or ())


def point(raw: Any) -> Figure | None:
    """Read a quantity."""
    return Figure.from_json(raw)


def difference(raw: Any) -> Figure | None:
    """Read a temperature difference."""
    return Figure.from_json(raw, difference=True)


def span(raw: Any) -> Range | None:
    """Read ``{"low", "high", "unit"}``."""
    return Range.from_json(raw)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """An answer that keeps the JSON it came as."""

    text: str = field(default="{}", repr=False)

    def to_json(self) -> str:
        """Give the service's JSON, unchanged."""
        return self.text

    def to_dict(self) -> dict[str, Any]:
        """Give the service's JSON as a new dictionary."""
        found: dict[str, Any] = json.loads(self.text)
        return found


class Row(Mapping[str, Any]):
    """A row of a small table; columns by name or as attributes, quantities as ``Figure``."""

    __slots__ = ("_columns",)

    def __init__(self, columns: Mapping[str, Any]) -> None:
        self._columns = dict(columns)

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Row:
        """Read a row, turning what looks like a quantity or a range into one."""
        return cls({name: _cell(value) for name, value in document.items()})

    def __getitem__(self, name: str) -> Any:
        return self._columns[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):  # asked by pickle before there are columns
            raise AttributeError(name)
        if name.rstrip("_") not in self._columns:
            raise AttributeError(f"this row has no column {name!r}; it has {', '.join(self)}")
        return self._columns[name.rstrip("_")]

    def __hash__(self) -> int:
        return hash(tuple(self._columns))

    def __repr__(self) -> str:
        return f"Row({self._columns!r})"

    def _repr_html_(self) -> str:
        return html_table("row", ["column", ""], [[n, v] for n, v in self.items()])


def _cell(value: Any) -> Any:
    if isinstance(value, Mapping):
        if set(value) == {"value", "unit"} and value["value"] is not None:
            return Figure.from_json(value)
        if {"low", "high", "unit"} <= set(value):
            return Range.from_json(value)
        return Row.from_json(value)
    if isinstance(value, list):
        return tuple(_cell(one) for one in value)
    return value
