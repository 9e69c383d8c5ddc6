"""What the operator's commands share: the ledger of this machine's database, and how they print."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hotface_api.cli.database import opened, shown_url
from hotface_api.cli.session import LocalError
from hotface_api.cli.tables import table

if TYPE_CHECKING:
    from hotface_api.ledger.core import Ledger
    from hotface_api.store.database import Database

__all__ = ["as_json", "day", "held_database", "listing", "open_ledger", "print_json", "refusals"]

as_json = click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")


@contextmanager
def refusals() -> Iterator[None]:
    """Tell what the ledger refuses without a trace."""
    from hotface_api.ledger.errors import InvalidError, LedgerError  # noqa: PLC0415 - whole service

    try:
        yield
    except InvalidError as error:
        raise LocalError("; ".join(_fault(fault) for fault in error.faults)) from error
    except LedgerError as error:
        near = f"; did you mean {', '.join(error.nearest)}?" if error.nearest else ""
        raise LocalError(f"{error.message}{near}") from error


def _fault(fault: Any) -> str:
    """Write a fault with the name of what it is about, as the command calls it."""
    near = f" (did you mean {', '.join(fault.nearest)}?)" if fault.nearest else ""
    return f"{fault.pointer.strip('/').replace('/', ' ')}: {fault.message}{near}"


@contextmanager
def held_database() -> Iterator[Database]:
    """Open the database of the settings: it must be there, and of this version's schema."""
    with opened() as database:
        if database.is_sqlite and not Path(str(database.url.database)).expanduser().exists():
            raise LocalError(
                f"there is no database at {shown_url(database)}; make it with  hotface load,  or"
                " check HOTFACE_DATABASE_URL"
            )
        from hotface_api.store.schema import is_current  # noqa: PLC0415 - whole service

        with database.read() as connection:
            current = is_current(connection)
        if not current:
            raise LocalError(
                f"{shown_url(database)} has the schema of another version; bring it up to date with"
                "  hotface load"
            )
        yield database


@contextmanager
def open_ledger() -> Iterator[Ledger]:
    """Open the ledger of the settings' database."""
    with refusals(), held_database() as database:
        from hotface_api.ledger.core import Ledger  # noqa: PLC0415 - loads the whole service

        yield Ledger(database)


def print_json(found: Any) -> None:
    """Print what a command found as JSON; moments are written as text with their zone."""
    click.echo(json.dumps(found, default=_written, ensure_ascii=False))


def _written(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)


def day(moment: datetime | None) -> str | None:
    """Give the day of a moment."""
    return None if moment is None else f"{moment:%Y-%m-%d}"


def listing(
    cards: Sequence[Any],
    head: Sequence[str],
    row: Callable[[Any], Sequence[object]],
    *,
    as_json: bool,
) -> None:
    """Print cards as a table or as JSON."""
    if as_json:
        print_json([asdict(card) for card in cards])
    else:
        click.echo(table(head, [row(card) for card in cards]) if cards else "none yet")
