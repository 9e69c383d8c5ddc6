"""What became of what was handed in, and how each figure stands against what is held."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar

from hotface._decode import Kept, decode, listed, point
from hotface._frames import data_frame
from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._show import html_table, show_number

__all__ = [
    "Agreement",
    "Fault",
    "Receipt",
    "ReceiptItem",
    "Slip",
    "TableReport",
    "TableRow",
    "Told",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with what was handed in: what, where, and what may be meant."""

    detail: str
    pointer: str
    nearest: tuple[str, ...] = ()

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Fault:
        """Read one fault."""
        return decode(cls, document, nearest=tuple)

    def __str__(self) -> str:
        hint = f" (did you mean {', '.join(self.nearest)}?)" if self.nearest else ""
        return f"{self.pointer}: {self.detail}{hint}"


@dataclass(frozen=True, slots=True)
class Agreement:
    """How a figure agrees with a held one, where both state an uncertainty (E_n, GUM)."""

    value: str
    e_n: float | None
    agrees: bool


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading under which a figure outside would fit: another unit, a decimal point."""

    unit: str | None
    factor: float | None
    would_be: Figure | None
    words: str

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Slip:
        """Read one slip."""
        return decode(cls, document, would_be=point)

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True)
class Told:
    """How a figure stands against what is held. Outside is unusual, not wrong.

    Attributes
    ----------
    position : str
        ``inside``, ``outside`` or ``not compared``.
    interval : Range or None
        Where a further origin is expected.
    beyond : float or None
        How far past the nearest end: a ratio on a logarithmic scale, else a distance.
    z : float or None
        Robust score against the origins held.
    origins : int
        How many origins it is compared with.
    known_origin, same_figure : tuple of str
        Held values of the same origin, and values of others with exactly this figure.
    words : tuple of str
        All of it in sentences.
    """

    position: str
    interval: Range | None
    beyond: float | None
    z: float | None
    origins: int
    agreements: tuple[Agreement, ...]
    known_origin: tuple[str, ...]
    same_figure: tuple[str, ...]
    slips: tuple[Slip, ...]
    words: tuple[str, ...]

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> Told | None:
        """Read what is told of a figure; ``None`` stays ``None``."""
        if document is None:
            return None
        return decode(
            cls,
            document,
            interval=Range.from_json,
            agreements=listed(lambda raw: decode(Agreement, raw)),
            known_origin=tuple,
            same_figure=tuple,
            slips=listed(Slip.from_json),
            words=tuple,
        )

    def __str__(self) -> str:
        return " ".join(self.words) or self.position


@dataclass(frozen=True, slots=True)
class ReceiptItem:
    """What became of one figure.

    Attributes
    ----------
    value : str or None
        Its id; ``None`` where it was refused or nothing was to be written.
    state : str
        ``pending``, ``refused``, ``held`` (handed in before) or ``checked`` (a dry run).
    version : int or None
        What a review or correction names.
    told : Told or None
        How it stands against what is held.
    errors : tuple of Fault
    """

    value: str | None
    state: str
    version: int | None
    told: Told | None
    errors: tuple[Fault, ...] = ()

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> ReceiptItem:
        """Read one item of a receipt."""
        return decode(cls, document, told=Told.from_json, errors=listed(Fault.from_json))

    def cells(self) -> list[object]:
        """Give it as the cells of a table."""
        said = [*(str(one) for one in self.errors), *([str(self.told)] if self.told else [])]
        return [self.value, self.state, self.version, " ".join(said)]

    def __str__(self) -> str:
        said = [*(str(one) for one in self.errors), *([str(self.told)] if self.told else [])]
        return ": ".join([f"{self.value or 'a figure'} is {self.state}", *said])


_HEAD = ["value", "state", "version", "told"]


@dataclass(frozen=True, slots=True)
class Receipt(Kept):
    """What became of a submission; items in the order they were handed in.

    What was handed in is pending: no answer counts it until a curator has accepted it.

    Attributes
    ----------
    submission : str or None
        Its id; ``None`` for a dry run and where everything was held before.
    revision : int
        Of the data it was compared with.
    specimen : str or None
        Id of the measured body that came with it.
    sources : tuple of str
        Ids of the sources it brought.
    replayed : bool
        Whether this answer was given before, to the same request.
    """

    _marks: ClassVar[tuple[str, ...]] = ("submission", "items", "contributor")

    submission: str | None
    made_at: datetime
    revision: int
    contributor: str
    specimen: str | None
    sources: tuple[str, ...]
    dry_run: bool
    replayed: bool
    items: tuple[ReceiptItem, ...]

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> Receipt:
        """Read a receipt and keep the text it came as."""
        return decode(
            cls,
            {"items": (), **document, "text": text},
            made_at=datetime.fromisoformat,
            sources=tuple,
            items=listed(ReceiptItem.from_json),
        )

    def __len__(self) -> int:
        return len(self.items)

    def __iter__(self) -> Iterator[ReceiptItem]:
        return iter(self.items)

    def __getitem__(self, place: int) -> ReceiptItem:
        return self.items[place]

    @property
    def values(self) -> tuple[str, ...]:
        """The ids of what was written or held before."""
        return tuple(one.value for one in self.items if one.value is not None)

    def _caption(self) -> str:
        counts: dict[str, int] = {}
        for one in self.items:
            counts[one.state] = counts.get(one.state, 0) + 1
        what = "dry run" if self.dry_run else f"submission {self.submission or 'held before'}"
        told = ", ".join(f"{count} {state}" for state, count in counts.items())
        return f"{what}: {told or 'nothing'}; compared at revision {self.revision}"

    def __str__(self) -> str:
        return "\n".join([self._caption(), *(f"  {one}" for one in self.items)])

    def _repr_html_(self) -> str:
        return html_table(self._caption(), _HEAD, [one.cells() for one in self.items])


@dataclass(frozen=True, slots=True)
class TableRow(ReceiptItem):
    """What became of one line of a file; the header is line 1."""

    line: int = 0

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> TableRow:
        """Read one row of a report."""
        return decode(cls, document, told=Told.from_json, errors=listed(Fault.from_json))


@dataclass(frozen=True, slots=True)
class TableReport(Kept):
    """What became of a CSV file, row by row: all rows were written, or none.

    Attributes
    ----------
    written : bool
        ``False`` for a dry run, and for a file in which something is wrong.
    good : bool
        Whether every row could be handed in.
    rows : tuple of TableRow
    errors : tuple of Fault
        What is wrong with the file as a whole.
    receipt : Receipt or None
        Without its items: they are the rows.
    """

    _marks: ClassVar[tuple[str, ...]] = ("written", "rows", "good")

    written: bool
    dry_run: bool
    good: bool
    rows: tuple[TableRow, ...]
    errors: tuple[Fault, ...]
    receipt: Receipt | None = field(default=None)

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str = "{}") -> TableReport:
        """Read a report and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text},
            rows=listed(TableRow.from_json),
            errors=listed(Fault.from_json),
            receipt=lambda raw: None if raw is None else Receipt.from_json(raw),
        )

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[TableRow]:
        return iter(self.rows)

    @property
    def bad(self) -> tuple[TableRow, ...]:
        """The rows with something wrong."""
        return tuple(one for one in self.rows if one.errors)

    def to_dataframe(self) -> Any:
        """Give the rows as a pandas data frame.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        names = ["line", *_HEAD]
        return data_frame([dict(zip(names, self._cells(one), strict=True)) for one in self.rows])

    @staticmethod
    def _cells(row: TableRow) -> list[object]:
        return [row.line, *row.cells()]

    def _caption(self) -> str:
        what = "written" if self.written else "checked, nothing written"
        wrong = len(self.bad) + len(self.errors)
        return f"{show_number(len(self.rows))} rows, {wrong} with something wrong: {what}"

    def __str__(self) -> str:
        lines = [f"  {one}" for one in self.errors]
        lines += [f"  line {one.line}: {one}" for one in self.rows]
        return "\n".join([self._caption(), *lines])

    def _repr_html_(self) -> str:
        notes = [str(one) for one in self.errors]
        rows = [self._cells(one) for one in self.rows]
        return html_table(self._caption(), ["line", *_HEAD], rows, notes)
