"""Selects that every answer waits for, run straight on the driver.

The toolkit compiles a statement, keeps it and wraps what comes back; for a read of ten rows that is
half of the time. Here a select is compiled once, for each database and each number of words in its
lists, and its rows are plain dictionaries. Anything that goes wrong is left to the toolkit: the
statement is run again through it, which raises the error everybody knows.

On SQLite one thread at a time reads. Its driver lets go of the interpreter at every row; with
several threads reading at once each row then costs a switch between them.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from functools import partial
from typing import Any, Final

from sqlalchemy import Connection, Dialect, Select

__all__ = ["Quick", "run"]

Row = dict[str, Any]
Reads = Sequence[tuple[str, Callable[[Any], Any]]]
_MOST_PLANS: Final = 64
_TURN: Final = threading.Lock()
_NO_TURN: Final = nullcontext()


def run(connection: Connection, sql: str, parameters: Any = ()) -> Sequence[tuple[Any, ...]]:
    """Run one statement on the driver of a connection and give all its rows."""
    return _fetch(connection, sql, parameters)[0]


def _fetch(
    connection: Connection, sql: str, parameters: Any
) -> tuple[Sequence[tuple[Any, ...]], Sequence[Any]]:
    """Give the rows, and the driver's description of their columns.

    Those who listen for statements on the engine are told, as they are by the toolkit.
    """
    cursor = connection.connection.cursor()
    try:
        for told in connection.dispatch.before_cursor_execute:
            told(connection, cursor, sql, parameters, None, False)  # noqa: FBT003 - its signature
        with _TURN if connection.dialect.name == "sqlite" else _NO_TURN:
            cursor.execute(sql, parameters)
            rows = cursor.fetchall()
        return rows, cursor.description
    finally:
        cursor.close()


class _Plan:
    """A select as one database takes it, for lists of given lengths.

    ``reads`` says which columns the driver gives raw, and how they are read; it is found with the
    first rows, since it depends on the types the database names.
    """

    __slots__ = ("parameters", "reads", "sql")

    def __init__(self, sql: str, parameters: Callable[[Mapping[str, Any]], Any]) -> None:
        self.sql = sql
        self.parameters = parameters
        self.reads: Reads | None = None


class Quick:
    """A select made once, with ``bindparam`` for what is asked.

    Parameters
    ----------
    statement : Select
        Its columns have names of their own; lists are bound with ``expanding=True``.
    """

    def __init__(self, statement: Select[Any]) -> None:
        self.statement = statement
        self._names = tuple(str(column.key) for column in statement.selected_columns)
        self._plans: dict[tuple[object, ...], _Plan] = {}

    def rows(self, connection: Connection, **given: Any) -> list[Row]:
        """Read the rows as dictionaries."""
        dialect = connection.dialect
        plan = self._plan(dialect, given)
        try:
            found, described = _fetch(connection, plan.sql, plan.parameters(given))
        except dialect.loaded_dbapi.Error:
            return [dict(row) for row in connection.execute(self.statement, given).mappings()]
        if plan.reads is None:
            plan.reads = self._reads(dialect, described)
        names = self._names
        rows = [dict(zip(names, row, strict=True)) for row in found]
        for name, read in plan.reads:
            for row in rows:
                row[name] = read(row[name])
        return rows

    def _reads(self, dialect: Dialect, described: Sequence[Any]) -> Reads:
        columns = zip(self._names, self.statement.selected_columns, described, strict=True)
        found = (
            (name, column.type.dialect_impl(dialect).result_processor(dialect, told[1]))
            for name, column, told in columns
        )
        return [(name, read) for name, read in found if read is not None]

    def _plan(self, dialect: Dialect, given: Mapping[str, Any]) -> _Plan:
        lengths = (len(each) for each in given.values() if isinstance(each, list | tuple))
        key = (dialect.name, *given, *lengths)
        plan = self._plans.get(key)
        if plan is None:
            plan = _planned(self.statement, dialect, given)
            if len(self._plans) >= _MOST_PLANS:
                self._plans.clear()
            self._plans[key] = plan
        return plan


def _planned(statement: Select[Any], dialect: Dialect, given: Mapping[str, Any]) -> _Plan:
    compiled = statement.compile(dialect=dialect)
    state = compiled.construct_expanded_state(given)
    fixed = {key: value for key, value in compiled.params.items() if key not in given}
    named = partial(_named, fixed, state.parameter_expansion)
    order = state.positiontup
    parameters: Callable[[Mapping[str, Any]], Any] = named
    if order is not None:
        parameters = partial(_placed, tuple(order), named)
    return _Plan(state.statement, parameters)


def _named(
    fixed: Mapping[str, Any], lists: Mapping[str, Sequence[str]], given: Mapping[str, Any]
) -> dict[str, Any]:
    """Name every parameter: lists word by word, and what the compiler added."""
    found = dict(fixed)
    for name, value in given.items():
        if name in lists:
            found.update(zip(lists[name], value, strict=True))
        else:
            found[name] = value
    return found


def _placed(
    order: Sequence[str],
    named: Callable[[Mapping[str, Any]], Mapping[str, Any]],
    given: Mapping[str, Any],
) -> tuple[Any, ...]:
    """Put the parameters in the order in which the statement asks for them."""
    found = named(given)
    return tuple([found[name] for name in order])
