"""The commands of a contributor: hand in, answer, correct and withdraw."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from hotface import InvalidRequest
from hotface_api.cli import REFUSED, contributed
from hotface_api.cli.database import Progress
from hotface_api.cli.session import LocalError, RefusedError, Session, acting, may_refuse

if TYPE_CHECKING:
    from hotface import Client

__all__ = ["COMMANDS"]

_SUBMIT_EXAMPLE: Final = """\
\b
The club weighed two litres of perlite from its bag, perlite.toml:
  licence = "CC0-1.0"
  [source.own_measurement]
  specimen = "two litres from the club's bag"
  instrument = "scale 1 g, jug 2 L"
  date = 2026-11-20
  [[values]]
  material = "expanded-perlite"
  property = "loose_bulk_density"
  typical = "110"
  unit = "kg/m3"
  form = "heap"
  fill = "poured"

\b
First look how it stands against what is held, then hand it in:
  hotface submit perlite.toml --dry-run
  hotface submit perlite.toml

\b
A whole table, in the columns of the published values (hotface export shows them):
  hotface submit lids.csv --licence CC0-1.0 --specimen 'lids 1 to 12' \\
      --instrument 'scale 1 g, tape 1 mm' --date 2026-11-20
"""
_CORRECT_EXAMPLE: Final = """\
\b
The jug held 1.9 litres; perlite.toml now says 116 kg/m3:
  hotface correct c-0123456789abcdef perlite.toml --reason 'the jug was short'
"""
_file = click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
_version = click.option(
    "--version",
    type=click.IntRange(1),
    help="The version you looked at; if it was changed since, nothing is done.",
)


@click.command(epilog=_SUBMIT_EXAMPLE)
@_file
@click.option("--licence", help="What the figures are given under, such as CC0-1.0.")
@click.option("--dry-run", is_flag=True, help="Check and compare only; write nothing.")
@click.option("--partial", is_flag=True, help="Write the good ones, of a TOML or JSON file.")
@click.option(
    "--sources",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="CSL-JSON file with the sources that a CSV file names.",
)
@click.option("--specimen", help="Of a CSV file's own measurements: what was measured.")
@click.option("--instrument", help="Of a CSV file's own measurements: with what.")
@click.option("--date", "day", help="Of a CSV file's own measurements: when, such as 2026-11-20.")
@acting
def submit(
    session: Session,
    file: Path,
    licence: str | None,
    dry_run: bool,
    partial: bool,
    sources: Path | None,
    specimen: str | None,
    instrument: str | None,
    day: str | None,
) -> None:
    """Hand in the measurements of a FILE: CSV, TOML or JSON.

    All figures are written or none. What is handed in is pending until a curator accepts it. Each
    figure is told how it stands against what is held; nothing is refused for being unusual. Leaves
    with 1 if the file is refused.
    """
    own = {"specimen": specimen, "instrument": instrument, "date": day}
    if file.suffix.lower() == ".csv":
        if partial:
            raise click.UsageError("a CSV file is written whole or not at all, without --partial")
        _submit_table(session, file, licence, dry_run, sources, own)
        return
    said = [f"--{name}" for name, text in (("sources", sources), *own.items()) if text]
    if said:
        raise click.UsageError(f"{', '.join(said)} go with a CSV file; a TOML or JSON file says it")
    _submit_document(session, file, licence, dry_run=dry_run, partial=partial)


def _submit_document(
    session: Session, file: Path, licence: str | None, *, dry_run: bool, partial: bool
) -> None:
    from hotface_api.cli.submission import read_submission  # noqa: PLC0415 - loads SDK parts

    asked = read_submission(file)
    asked["licence"] = _licence(licence or asked.get("licence"))
    with may_refuse():
        found = _send(session.client(), asked, dry_run=dry_run, partial=partial)
    click.echo(found.to_json() if session.as_json else contributed.receipt(found))
    if any(one.state == "refused" for one in found):
        raise SystemExit(REFUSED)


def _send(client: Client, asked: dict[str, Any], *, dry_run: bool, partial: bool) -> Any:
    if "specimen" not in asked:
        return client.submit(**asked, dry_run=dry_run, partial=partial)
    if partial:
        raise click.UsageError("a measured body is written whole or not at all, without --partial")
    return client.submit_specimen(**asked, dry_run=dry_run)


def _licence(licence: Any) -> str:
    """Take a licence that was said: none is taken for granted."""
    if not isinstance(licence, str) or not licence.strip():
        raise click.UsageError(
            "say the licence the figures are given under, with --licence or in the file, such as"
            " CC0-1.0 (anyone may use them for anything) or CC-BY-4.0 (if they name you)"
        )
    return licence.strip()


def _submit_table(
    session: Session,
    file: Path,
    licence: str | None,
    dry_run: bool,
    sources: Path | None,
    own: dict[str, str | None],
) -> None:
    asked = {
        "licence": _licence(licence),
        "sources": () if sources is None else _sources(sources),
        "own_measurement": _own_measurement(own),
        "dry_run": dry_run,
    }
    progress, name = Progress("rows"), "checked" if dry_run else "handed in"
    try:
        with may_refuse():
            found = session.client().submit_csv(
                file, **asked, progress=lambda done, total: progress(name, done, total)
            )
    except RefusedError as error:
        progress.close()
        _tell_refused(session, error)
        raise
    progress.close()
    click.echo(found.to_json() if session.as_json else contributed.table_report(found))
    if not found.good:
        raise SystemExit(REFUSED)


def _tell_refused(session: Session, error: RefusedError) -> None:
    """Print the report of a refused file before the message goes to standard error."""
    cause = error.__cause__
    if not isinstance(cause, InvalidRequest):
        return
    if session.as_json:
        click.echo(json.dumps(cause.problem, ensure_ascii=False))
    elif rows := contributed.refused_rows(cause):
        click.echo(rows)
        error.args = ("the file is refused for these; nothing was written",)


def _own_measurement(own: dict[str, str | None]) -> Any:
    """Take specimen, instrument and day together, or none of them."""
    if not any(own.values()):
        return None
    lacking = [f"--{name}" for name, text in own.items() if not text]
    if lacking:
        raise click.UsageError(f"own measurements need {', '.join(lacking)} too")
    from hotface import own_measurement  # noqa: PLC0415 - loads SDK parts

    try:
        day = date.fromisoformat(own["date"] or "")
    except ValueError as error:
        raise click.BadParameter(
            f"{own['date']!r} is no day; write it like 2026-11-20", param_hint="--date"
        ) from error
    return own_measurement(own["specimen"] or "", own["instrument"] or "", day)


def _sources(file: Path) -> list[Any]:
    """Read CSL-JSON: a list of items, as reference managers export it."""
    try:
        items = json.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise LocalError(f"{file.name} cannot be read as CSL-JSON: {error}") from error
    if not isinstance(items, list) or not all(isinstance(one, dict) for one in items):
        raise LocalError(f"{file.name} must hold a list of CSL-JSON items")
    return items


@click.command(epilog=_CORRECT_EXAMPLE)
@click.argument("id")
@_file
@click.option("--reason", required=True, help="Why it is corrected; kept with it.")
@_version
@acting
def correct(
    session: Session,
    id: str,  # noqa: A002 - the word of the service
    file: Path,
    reason: str,
    version: int | None,
) -> None:
    """Put the figure of a FILE in the place of your value with this ID.

    The file is one [[values]] entry as  hotface submit  takes it. Source and specimen are kept if
    left out; the older figure stays reachable.
    """
    from hotface_api.cli.submission import read_value  # noqa: PLC0415 - loads SDK parts

    value = read_value(file)
    client = session.client()
    with may_refuse():
        found = client.correct(_looked_at(client, id, version), value, reason, version=version)
    click.echo(found.to_json() if session.as_json else contributed.receipt(found))


@click.command()
@click.argument("id")
@click.option("--reason", required=True, help="Why it is withdrawn; kept with it.")
@_version
@acting
def withdraw(
    session: Session,
    id: str,  # noqa: A002 - the word of the service
    reason: str,
    version: int | None,
) -> None:
    """Withdraw your value with this ID; its history stays reachable."""
    client = session.client()
    with may_refuse():
        found = client.withdraw(_looked_at(client, id, version), reason, version=version)
    click.echo(found.to_json() if session.as_json else str(found))


@click.command()
@click.argument("id")
@click.argument("text")
@_version
@acting
def reply(
    session: Session,
    id: str,  # noqa: A002 - the word of the service
    text: str,
    version: int | None,
) -> None:
    """Answer a curator's question about your value with this ID."""
    client = session.client()
    with may_refuse():
        found = client.reply(_looked_at(client, id, version), text, version=version)
    click.echo(found.to_json() if session.as_json else str(found))


def _looked_at(client: Client, value: str, version: int | None) -> Any:
    """Give the id if the version is said, else the value as it stands now."""
    return value if version is not None else client.contribution(value)


COMMANDS: Final = (submit, correct, withdraw, reply)
