"""Completion with the Tab key: the script for a shell, and ids straight from the data.

A shell starts the program anew at each Tab, so nothing of the service is loaded: the ids come from
one SELECT on an SQLite file, from the published files where there is none yet, or from the service
that ``--server`` names, which is not waited for long. Completion never fails: it knows nothing
then.
"""

from __future__ import annotations

import csv
import os
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import click
from click.shell_completion import CompletionItem, get_completion_class

__all__ = ["COMMANDS", "ids", "materials", "properties", "sources"]

_MOST: Final = 200
_SECONDS: Final = 1.5
_TABLES: Final = {"materials": "material", "properties": "property", "sources": "source"}
_HELP: Final = {"materials": "name", "properties": "name", "sources": "source_type"}
_VARIABLE: Final = "_HOTFACE_COMPLETE"
_EXAMPLE: Final = """\
\b
For good, in the start file of your shell:
  eval "$(hotface completion bash)"           ~/.bashrc
  eval "$(hotface completion zsh)"            ~/.zshrc
  hotface completion fish | source            ~/.config/fish/config.fish

\b
Then the Tab key finishes commands, options, materials and properties:
  hotface show expanded-<Tab>
"""


def _chosen(found: Iterable[tuple[str, str | None]], begun: str) -> list[CompletionItem]:
    """Choose ids that begin so, or else that hold it."""
    known = sorted(found)
    fits = [one for one in known if one[0].startswith(begun)]
    fits = fits or [one for one in known if begun.lower() in one[0]]
    return [CompletionItem(name, help=text) for name, text in fits[:_MOST]]


def ids(
    route: str, ctx: click.Context, _parameter: click.Parameter | None, incomplete: str
) -> list[CompletionItem]:
    """Complete an id.

    Parameters
    ----------
    route : str
        ``materials``, ``properties`` or ``sources``.
    ctx : click.Context
    incomplete : str
        What is typed so far; after a comma, the last of several.
    """
    before, comma, begun = incomplete.rpartition(",")
    server = ctx.params.get("server") or os.environ.get("HOTFACE_SERVER")
    try:
        found = _served(server, route) if server else _held(route)
    except Exception:  # noqa: BLE001 - whatever it is, a Tab must not print a trace
        return []
    return [
        CompletionItem(f"{before}{comma}{item.value}", help=item.help)
        for item in _chosen(found, begun.lstrip())
    ]


materials = partial(ids, "materials")
properties = partial(ids, "properties")
sources = partial(ids, "sources")


def _held(route: str) -> list[tuple[str, str | None]]:
    """Read the ids of the database here."""
    from hotface_api.settings import Settings  # noqa: PLC0415 - needed at a Tab only

    url = Settings.from_environment().database_url
    if not url.startswith("sqlite:"):
        return _served(None, route)
    file = Path(url.removeprefix("sqlite:///")).expanduser()
    return _selected(file, route) if file.is_file() else _published(route)


def _selected(file: Path, route: str) -> list[tuple[str, str | None]]:
    statement = (
        f"SELECT id, {_HELP[route]} FROM {_TABLES[route]}"  # noqa: S608 - names of our own
        " WHERE to_revision IS NULL"
    )
    address = f"file:{quote(str(file.resolve()))}?mode=ro"
    with closing(sqlite3.connect(address, uri=True, timeout=_SECONDS)) as connection:
        return list(connection.execute(statement))


def _published(route: str) -> list[tuple[str, str | None]]:
    """Read the ids of the published files: nothing is loaded yet."""
    if route == "sources":
        return []
    from hotface_seed import PACKAGE_PATH  # noqa: PLC0415 - needed at a Tab only

    with (PACKAGE_PATH.parent / f"{route}.csv").open(encoding="utf-8", newline="") as file:
        return [(row["id"], row["name"]) for row in csv.DictReader(file)]


def _served(server: str | None, route: str) -> list[tuple[str, str | None]]:
    """Ask the service named, or the one inside on PostgreSQL."""
    from hotface import Client  # noqa: PLC0415 - needed at a Tab only

    if server:
        client = Client(server, timeout=_SECONDS, retries=0)
    else:
        from hotface_api.embedded import open_transport  # noqa: PLC0415 - loads the whole service

        client = Client(transport=open_transport())
    with client:
        pages: Any = getattr(client, route)()
        return [(one.id, getattr(one, "name", None)) for one in pages]


@click.command(epilog=_EXAMPLE)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the script that lets a SHELL complete commands and ids with the Tab key."""
    from hotface_api.cli.commands import hotface  # noqa: PLC0415 - it holds this command

    kind = get_completion_class(shell)
    if kind is None:  # pragma: no cover - click knows all three
        raise click.UsageError(f"nothing is known of {shell}")
    click.echo(kind(hotface, {}, "hotface", _VARIABLE).source())


COMMANDS: Final = (completion,)
