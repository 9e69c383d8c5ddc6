"""``hotface export``: the whole data set into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click

from hotface_api.cli.session import Session

__all__ = ["COMMANDS"]

_EXAMPLE: Final = """\
\b
  hotface export club-data.zip
  hotface load club-data.zip
"""


@click.command(epilog=_EXAMPLE)
@click.argument("file", type=click.Path(dir_okay=False, writable=True, path_type=Path))
@click.option("--revision", type=click.IntRange(1), help="The data as they stood then.")
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
@click.option(
    "--server",
    metavar="URL",
    envvar="HOTFACE_SERVER",
    help="Ask this service instead of the one inside this program.",
)
def export(file: Path, revision: int | None, as_json: bool, server: str | None) -> None:
    """Write the whole data set to FILE, as one Data Package in a zip.

    A CSV file a table, the sources as CSL-JSON and BibTeX, and the schema that checks them. The
    file can be loaded again:  hotface load FILE
    """
    written = Session(server, "si", as_json).client().export(file, revision)
    report: dict[str, Any] = {"file": str(written), "bytes": written.stat().st_size}
    if as_json:
        import json  # noqa: PLC0415 - needed by this branch only

        click.echo(json.dumps(report))
    else:
        click.echo(f"{written}: {report['bytes']} bytes")


COMMANDS: Final = (export,)
