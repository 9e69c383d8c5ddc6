"""From JSON to frozen objects: a field is read by its name, and what is missing is told."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeAlias, TypeVar

from hotface._errors import NotAnAnswer
from hotface._files import write_whole
from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._results import build
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = [
    "Answered",
    "Columns",
    "Kept",
    "Row",
    "Text",
    "decode",
    "difference",
    "listed",
    "point",
    "span",
]

T = TypeVar("T")
Text: TypeAlias = str | Callable[[], str]
"""JSON as it came, or what writes it when it is asked for."""
Reader = Callable[[Any], Any]


def decode(kind: type[T], document: Mapping[str, Any], **readers: Reader) -> T:
    """Fill a dataclass from a JSON object by field name; ``with_`` stands for ``with``."""
    chosen: dict[str, Any] = {}
    for attribute, name, optional in _plan(kind):  # type: ignore[arg-type]
        if optional and name not in document:
            continue
        raw = document[name]
        reader = readers.get(attribute)
        chosen[attribute] = raw if reader is None else reader(raw)
    return kind(**chosen)


@cache
def _plan(kind: Any) -> tuple[tuple[str, str, bool], ...]:
    """List the fields of a dataclass: attribute, name in JSON, and whether it may be missing."""
    return tuple(
        (
            one.name,
            one.name.rstrip("_"),
            one.default is not MISSING or one.default_factory is not MISSING,
        )
        for one in fields(kind)
    )


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

    text: Text = field(default="{}", repr=False, compare=False)

    def save(self, path: str | PathLike[str]) -> None:
        """Write the service's JSON to a file, whole or not at all."""
        write_whole(Path(path), self.to_json().encode())

    def to_json(self) -> str:
        """Give the service's JSON, unchanged; of one in a batch, what it would be alone."""
        return self.text if isinstance(self.text, str) else self.text()

    def to_dict(self) -> dict[str, Any]:
        """Give the service's JSON as a new dictionary."""
        found: dict[str, Any] = json.loads(self.to_json())
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept(Answered):
    """An answer that can be read again from the file it was saved to."""

    _marks: ClassVar[tuple[str, ...]] = ()
    """Keys by which a file of this kind is told from others."""

    @classmethod
    def _read(cls, document: dict[str, Any], text: str, client: Any) -> Self:  # noqa: ARG003
        made: Self = cls.from_json(document, text)  # type: ignore[attr-defined]
        return made

    @classmethod
    def load(cls, path: str | PathLike[str], client: Client | None = None) -> Self:
        """Read what ``save`` wrote.

        Parameters
        ----------
        path : str or path
            The file.
        client : Client, optional
            Whom to ask for more, such as the sources as BibTeX.

        Raises
        ------
        NotAnAnswer
            If the file holds something else.
        """
        text = Path(path).read_text(encoding="utf-8")
        return build(cls._from_text, text, Path(path).name, client)

    @classmethod
    def _from_text(cls, text: str, name: str, client: Any) -> Self:
        what = re.sub("(?<=[a-z])(?=[A-Z])", " ", cls.__name__).lower()
        no = f"{name} holds no {what}"
        try:
            document = json.loads(text)
        except ValueError as error:
            raise NotAnAnswer(f"{no}: it is not JSON") from error
        if not isinstance(document, dict) or not all(mark in document for mark in cls._marks):
            raise NotAnAnswer(f"{no}: write one with {cls.__name__}.save")
        return cls._read(document, text, client)


class Columns:
    """A row of fixed columns that can also be asked for by name, as ``row["class"]``."""

    __slots__ = ()

    def __getitem__(self, name: str) -> Any:
        columns = self.columns()
        if name not in columns:
            raise KeyError(f"no column {name!r}; there are {', '.join(columns)}")
        return columns[name]

    def get(self, name: str, default: Any = None) -> Any:
        """Give a column by name, or a default where there is none."""
        try:
            return self[name]
        except KeyError:
            return default

    def columns(self) -> dict[str, Any]:
        """Give every column by its name in JSON."""
        plan = _plan(type(self))  # type: ignore[arg-type]
        return {column: getattr(self, attribute) for attribute, column, _ in plan}

    def _repr_html_(self) -> str:
        return html_table(
            type(self).__name__, ["column", ""], [[*one] for one in self.columns().items()]
        )


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
