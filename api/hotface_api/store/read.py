"""Plain rows out of the store: Core selects to dictionaries, as the tables stood at a revision.

Ids are ordered and compared by bytes on both databases. PostgreSQL would otherwise sort by the
locale of the database, so that the pages of one list would differ from place to place. Text search
folds ASCII letters only, for the same reason: that is all both databases agree on.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Final

from sqlalchemy import (
    ColumnElement,
    Connection,
    Integer,
    Select,
    String,
    Table,
    and_,
    bindparam,
    func,
    or_,
    select,
    union,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from hotface_api.store.base import Base
from hotface_api.store.models import Revision, Specimen, SpecimenConstituent, Value
from hotface_api.store.quick import Quick

__all__ = [
    "Row",
    "SpecimenFilter",
    "ValueFilter",
    "bytewise",
    "constituents",
    "dated",
    "find",
    "having",
    "held",
    "known_ids",
    "listed",
    "mentions",
    "page",
    "revisions",
    "specimen",
    "specimens",
    "table",
    "value_history",
    "values",
    "values_of_specimen",
]

Row = dict[str, Any]
MAX_SEARCH_WORDS: Final = 8


class bytewise(FunctionElement[str]):  # noqa: N801 - reads as the SQL function it is
    """A text column ordered and compared byte by byte, whatever the locale."""

    inherit_cache = True
    type = String()
    name = "bytewise"


@compiles(bytewise)
def _plain(element: bytewise, compiler: SQLCompiler, **kwargs: Any) -> str:
    return compiler.process(element.clauses, **kwargs)


@compiles(bytewise, "postgresql")
def _collated(element: bytewise, compiler: SQLCompiler, **kwargs: Any) -> str:
    return f'{compiler.process(element.clauses, **kwargs)} COLLATE "C"'


def table(model: type[Base]) -> Table:
    """Give a model's table, typed."""
    return model.__table__  # type: ignore[return-value]


def dated(model: type[Base], revision: int | ColumnElement[int]) -> ColumnElement[bool]:
    """Tell which rows of a dated table hold at a revision; pending ones hold at none."""
    columns = table(model).c
    return and_(
        columns.from_revision <= revision,
        or_(columns.to_revision.is_(None), columns.to_revision > revision),
    )


def mentions(columns: Sequence[ColumnElement[Any]], text: str) -> ColumnElement[bool]:
    """Match rows where every word of ``text`` stands in one of the columns, in either case.

    ``%`` and ``_`` mean themselves.
    """
    words = [_fold(word) for word in text.split()[:MAX_SEARCH_WORDS]]
    folded = [func.lower(bytewise(column)) for column in columns]
    return and_(
        *(or_(*(column.contains(word, autoescape=True) for column in folded)) for word in words)
    )


def _fold(word: str) -> str:
    """Lower ASCII letters and no others."""
    return "".join(letter.lower() if letter.isascii() else letter for letter in word)


def listed(connection: Connection, statement: Select[Any], **given: Any) -> list[Row]:
    """Run a select made for this one question, and give its rows as plain dictionaries."""
    return [dict(row) for row in connection.execute(statement, given).mappings()]


def _page(statement: Select[Any], column: Any, *, further: bool) -> Select[Any]:
    """Cut a page out of a select: ``after`` the last id of the page before, ``limit`` rows."""
    if further:
        statement = statement.where(bytewise(column) > bindparam("after"))
    return statement.order_by(bytewise(column)).limit(bindparam("limit"))


_AT: Final = bindparam("revision", type_=Integer)


@cache
def _held(model: type[Base]) -> Quick:
    source = table(model)
    return Quick(select(source).where(dated(model, _AT)).order_by(bytewise(source.c.id)))


def held(connection: Connection, model: type[Base], revision: int) -> list[Row]:
    """Read every row of a dated table that holds at a revision, ordered by id."""
    return _held(model).rows(connection, revision=revision)


@cache
def _found(model: type[Base]) -> Quick:
    source = table(model)
    return Quick(select(source).where(source.c.id == bindparam("key"), dated(model, _AT)))


def find(connection: Connection, model: type[Base], revision: int, key: str) -> Row | None:
    """Read the row with an id that holds at a revision."""
    rows = _found(model).rows(connection, key=key, revision=revision)
    return rows[0] if rows else None


def known_ids(connection: Connection, model: type[Base], revision: int) -> list[str]:
    """Read the ids that hold at a revision."""
    statement = select(table(model).c.id).where(dated(model, revision))
    return list(connection.scalars(statement))


def having(connection: Connection, revision: int, properties: Collection[str]) -> set[str]:
    """Name the materials with an accepted value of each of the properties."""
    columns = table(Value).c
    statement = (
        select(columns.material)
        .where(columns.property.in_(sorted(properties)), dated(Value, revision))
        .group_by(columns.material)
        .having(func.count(columns.property.distinct()) == len(properties))
    )
    return set(connection.scalars(statement))


@dataclass(frozen=True, slots=True)
class ValueFilter:
    """Which values are wanted: within a field any of the words, and all fields together."""

    id: tuple[str, ...] = ()
    material: tuple[str, ...] = ()
    property: tuple[str, ...] = ()
    source: tuple[str, ...] = ()
    origin: tuple[str, ...] = ()
    specimen: tuple[str, ...] = ()
    basis: tuple[str, ...] = ()
    role: tuple[str, ...] = ()
    form: tuple[str, ...] = ()
    q: str | None = None


_VALUE_WORDS: Final = (
    "id",
    "material",
    "property",
    "source",
    "origin",
    "specimen",
    "basis",
    "role",
    "form",
)
_VALUE_TEXT: Final = ("id", "condition_text", "method", "locator", "note", "printed_unit")


@lru_cache(maxsize=256)
def _paged(model: type[Base], filters: tuple[str, ...], *, further: bool) -> Quick:
    columns = table(model).c
    wanted = [columns[name].in_(bindparam(name, expanding=True)) for name in filters]
    statement = select(table(model)).where(dated(model, _AT), *wanted)
    return Quick(_page(statement, columns.id, further=further))


def page(
    connection: Connection,
    model: type[Base],
    revision: int,
    wanted: Mapping[str, Sequence[str] | None],
    after: str | None,
    limit: int,
) -> list[Row]:
    """Read a page of a dated table, ordered by id.

    Parameters
    ----------
    connection : Connection
    model : type of Base
    revision : int
    wanted : mapping
        Columns and the words wanted in each; within a column any of them, and all columns
        together. A column without words is not asked about.
    after : str or None
        Id of the last row of the page before.
    limit : int
    """
    given: dict[str, Any] = {name: words for name, words in wanted.items() if words}
    made = _paged(model, tuple(given), further=after is not None)
    return made.rows(connection, **given, **_after(after), revision=revision, limit=limit)


def values(
    connection: Connection, revision: int, wanted: ValueFilter, after: str | None, limit: int
) -> list[Row]:
    """Read a page of the values that hold at a revision, ordered by id."""
    filters = {name: getattr(wanted, name) for name in _VALUE_WORDS}
    if wanted.q is None:
        return page(connection, Value, revision, filters, after, limit)
    columns = table(Value).c
    statement = select(table(Value)).where(
        dated(Value, revision),
        *(columns[name].in_(words) for name, words in filters.items() if words),
        mentions([columns[name] for name in _VALUE_TEXT], wanted.q),
    )
    statement = _page(statement, columns.id, further=after is not None)
    return listed(connection, statement, limit=limit, **_after(after))


def _after(after: str | None) -> dict[str, str]:
    return {} if after is None else {"after": after}


_VALUE: Final = table(Value)
_OF_SPECIMEN: Final = Quick(
    select(_VALUE)
    .where(_VALUE.c.specimen == bindparam("specimen"), dated(Value, _AT))
    .order_by(
        bytewise(_VALUE.c.property), _VALUE.c.temperature_low.nulls_first(), bytewise(_VALUE.c.id)
    )
)


def values_of_specimen(connection: Connection, revision: int, specimen: str) -> list[Row]:
    """Read the values measured on a specimen, ordered by property, temperature and id."""
    return _OF_SPECIMEN.rows(connection, specimen=specimen, revision=revision)


def value_history(connection: Connection, revision: int, key: str) -> list[Row]:
    """Read every accepted row of a value, of those it replaced and of those that replaced it.

    Oldest first; rows accepted after ``revision`` are left out.
    """
    columns = table(Value).c
    known = columns.from_revision <= revision
    replaced = and_(columns.replaces.is_not(None), known)
    links = union(  # both ways, since PostgreSQL allows a recursion only one recursive term
        select(columns.id.label("here"), columns.replaces.label("there")).where(replaced),
        select(columns.replaces.label("here"), columns.id.label("there")).where(replaced),
    ).cte("links")
    start = select(columns.id.label("id")).where(columns.id == key, known)
    chain = start.cte("chain", recursive=True)
    chain = chain.union(select(links.c.there).where(links.c.here == chain.c.id))
    statement = (
        select(table(Value))
        .where(columns.id.in_(select(chain.c.id)), known)
        .order_by(columns.from_revision, columns.row)
    )
    return listed(connection, statement)


@dataclass(frozen=True, slots=True)
class SpecimenFilter:
    """Which specimens are wanted."""

    material: tuple[str, ...] = ()
    kind: tuple[str, ...] = ()
    source: tuple[str, ...] = ()
    constituent: tuple[str, ...] = ()
    q: str | None = None


_SPECIMEN_TEXT: Final = ("id", "name", "proportions", "note")


def specimens(
    connection: Connection, revision: int, wanted: SpecimenFilter, after: str | None, limit: int
) -> list[Row]:
    """Read a page of the specimens that hold at a revision, ordered by id."""
    filters = {name: getattr(wanted, name) for name in ("material", "kind", "source")}
    if not wanted.constituent and wanted.q is None:
        return page(connection, Specimen, revision, filters, after, limit)
    columns = table(Specimen).c
    statement = select(table(Specimen)).where(dated(Specimen, revision))
    for name, words in filters.items():
        if words:
            statement = statement.where(columns[name].in_(words))
    if wanted.constituent:
        recipe = table(SpecimenConstituent).c
        made_of = select(recipe.specimen).where(
            recipe.material.in_(wanted.constituent), dated(SpecimenConstituent, revision)
        )
        statement = statement.where(columns.id.in_(made_of))
    if wanted.q is not None:
        statement = statement.where(mentions([columns[name] for name in _SPECIMEN_TEXT], wanted.q))
    statement = _page(statement, columns.id, further=after is not None)
    return listed(connection, statement, limit=limit, **_after(after))


_RECIPE: Final = ("position", "material", "part", "mass_percent", "volume_percent")


def specimen(connection: Connection, revision: int, key: str) -> tuple[Row, list[Row]] | None:
    """Read one specimen and its recipe, with one statement."""
    source, recipe = table(Specimen), table(SpecimenConstituent)
    fits = and_(recipe.c.specimen == source.c.id, dated(SpecimenConstituent, revision))
    statement = (
        select(source, *(recipe.c[name].label(f"recipe_{name}") for name in _RECIPE))
        .select_from(source.outerjoin(recipe, fits))
        .where(source.c.id == key, dated(Specimen, revision))
        .order_by(recipe.c.position)
    )
    found = listed(connection, statement)
    if not found:
        return None
    lines = [{name: row[f"recipe_{name}"] for name in _RECIPE} for row in found]
    return found[0], [line for line in lines if line["material"] is not None]


_PARTS: Final = table(SpecimenConstituent)
_RECIPES: Final = Quick(
    select(_PARTS)
    .where(
        _PARTS.c.specimen.in_(bindparam("specimens", expanding=True)),
        dated(SpecimenConstituent, _AT),
    )
    .order_by(_PARTS.c.specimen, _PARTS.c.position)
)


def constituents(
    connection: Connection, revision: int, specimen_ids: Collection[str]
) -> dict[str, list[Row]]:
    """Read the recipes of some specimens, each in its order."""
    if not specimen_ids:
        return {}
    rows = _RECIPES.rows(connection, specimens=sorted(specimen_ids), revision=revision)
    found: dict[str, list[Row]] = {key: [] for key in specimen_ids}
    for row in rows:
        found[row["specimen"]].append(row)
    return found


def revisions(connection: Connection, up_to: int, after: int | None, limit: int) -> list[Row]:
    """Read a page of the revisions, newest first; ``after`` is the number read last."""
    columns = table(Revision).c
    statement = select(table(Revision)).where(columns.number <= up_to)
    if after is not None:
        statement = statement.where(columns.number < after)
    return listed(connection, statement.order_by(columns.number.desc()).limit(limit))
