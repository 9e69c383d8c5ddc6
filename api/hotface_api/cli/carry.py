"""``hotface export``: the whole data set into one file, or one material as a spreadsheet."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import click

from hotface_api.cli import complete
from hotface_api.cli.files import write_whole
from hotface_api.cli.session import LocalError, Session, asking

__all__ = ["COMMANDS"]

_EXAMPLE: Final = """\
\b
Everything, to load it elsewhere:
  hotface export club-data.zip
  hotface load club-data.zip

\b
What is held of the lid's aggregate, for a spreadsheet:
  hotface export expanded-clay.csv --material expanded-clay
"""


@click.command(epilog=_EXAMPLE)
@click.argument("file", type=click.Path(dir_okay=False, writable=True, path_type=Path))
@click.option(
    "--material",
    help="Only the cited values of this material, as CSV.",
    shell_complete=complete.materials,
)
@asking
def export(session: Session, file: Path, material: str | None) -> None:
    """Write the whole data set to FILE, as one Data Package in a zip.

    A CSV file a table, the sources as CSL-JSON and BibTeX, and the schema that checks them. With
    --material, one CSV file of its cited values, a row each, in the units asked for; what a
    spreadsheet would run as a formula is made harmless.
    """
    is_csv = file.suffix.lower() == ".csv"
    if is_csv and material is None:
        raise click.UsageError("a CSV file is of one --material; the whole is a .zip file")
    if material is not None and not is_csv:
        raise click.UsageError("name the file of one material .csv")
    report: dict[str, Any] = {"file": str(file)}
    if material is None:
        written = _whole(session, file)
        report["bytes"] = written.stat().st_size
    else:
        report |= {"rows": _sheet(session, file, material)}
    if session.as_json:
        click.echo(json.dumps(report))
    else:
        name = "bytes" if material is None else "rows"
        click.echo(f"{file}: {report[name]} {name}")


def _whole(session: Session, file: Path) -> Path:
    try:
        return session.client().export(file, session.revision)
    except OSError as error:
        if error.filename is None and error.errno is None:  # the SDK's own: nothing answered
            raise
        raise LocalError(f"{file} cannot be written: {error.strerror}") from error


def _sheet(session: Session, file: Path, material: str) -> int:
    """Write the values of a material; gives how many."""
    from hotface_api.cli.sheets import sheet  # noqa: PLC0415 - needed by this branch only

    client = session.client()
    client.material(material)  # one that is not known is told with the nearest
    rows = client.values(material=material).all()
    write_whole(file, sheet(rows))
    return len(rows)


COMMANDS: Final = (export,)
