"""The commands on what waits for review: look, and decide."""

from __future__ import annotations

import json
from typing import Final

import click

from hotface_api.cli import contributed
from hotface_api.cli.ask import merged
from hotface_api.cli.session import Session, acting, may_refuse

__all__ = ["COMMANDS"]

_STATES: Final = ("pending", "asked", "accepted", "declined", "withdrawn", "replaced")
_EXAMPLE: Final = """\
\b
A curator of the club looks through what was handed in, and decides:
  hotface contributions
  hotface contribution c-0123456789abcdef
  hotface review c-0123456789abcdef --ask --note 'Was the bag dry?'
  hotface review c-0123456789abcdef --accept
"""


@click.command(epilog=_EXAMPLE)
@click.option("--state", type=click.Choice(_STATES), help="Only those that stand so.")
@click.option("--mine", is_flag=True, help="With a curator's key: your own, not the queue.")
@acting
def contributions(session: Session, state: str | None, mine: bool) -> None:
    """List contributed values: your own, or with a curator's key what waits for review."""
    found = session.client().contributions(state, mine=True if mine else None)
    if session.as_json:
        click.echo(merged(found.answers()))
    else:
        click.echo(contributed.entries(found.all()))


@click.command(epilog=_EXAMPLE)
@click.argument("id")
@acting
def contribution(session: Session, id: str) -> None:  # noqa: A002 - the word of the service
    """Show the contributed value with this ID, its review, and how it stands."""
    found = session.client().contribution(id)
    click.echo(found.to_json() if session.as_json else contributed.entry(found))


@click.command(epilog=_EXAMPLE)
@click.argument("id", nargs=-1, required=True, metavar="ID...")
@click.option("--accept", "decision", flag_value="accept", help="It counts from now on.")
@click.option("--decline", "decision", flag_value="decline", help="With the reason as --note.")
@click.option("--ask", "decision", flag_value="ask", help="With the question as --note.")
@click.option("--note", help="The reason, or what is asked; the contributor reads it.")
@click.option(
    "--version",
    type=click.IntRange(1),
    help="The version of one value you looked at; if it was changed since, nothing is done.",
)
@acting
def review(
    session: Session,
    id: tuple[str, ...],  # noqa: A002 - the word of the service
    decision: str | None,
    note: str | None,
    version: int | None,
) -> None:
    """Decide on the contributed value with this ID, or alike on several: all or none.

    Asks for a curator's key. Nobody reviews what they handed in themselves.
    """
    if decision is None:
        raise click.UsageError("say one of --accept, --decline and --ask")
    if decision != "accept" and not note:
        raise click.UsageError(f"--{decision} needs a --note for the contributor")
    if version is not None and len(id) > 1:
        raise click.UsageError("--version is of one value")
    client = session.client()
    with may_refuse():
        if len(id) == 1:
            seen = id[0] if version is not None else client.contribution(id[0])
            found = [client.review(seen, decision, note, version=version)]  # type: ignore[arg-type]
        else:
            seen_all = [client.contribution(one) for one in dict.fromkeys(id)]
            found = client.review_many(seen_all, decision, note)  # type: ignore[arg-type]
    if not session.as_json:
        click.echo("\n".join(str(one) for one in found))
    elif len(id) == 1:
        click.echo(found[0].to_json())
    else:
        click.echo(json.dumps({"items": [_plain(one) for one in found]}))


def _plain(standing: object) -> dict[str, object]:
    names = ("value", "state", "version", "revision", "replayed")
    return {name: getattr(standing, name) for name in names}


COMMANDS: Final = (contributions, contribution, review)
