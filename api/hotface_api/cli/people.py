"""The operator's commands on who may contribute: people and their keys."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from typing import Final

import click

from hotface_api.cli.operator import as_json, day, listing, open_ledger, print_json
from hotface_api.cli.session import Group, Session, acting
from hotface_api.cli.tables import plain

__all__ = ["COMMANDS"]

_EXAMPLE: Final = """\
\b
A member of the club wants to hand in what the lid weighed. Enter them once, and
give them a key under the id that is printed:
  hotface person add 'Name of the member'
  hotface key make p-01234567 --label 'the lid, spring' --days 365
"""


@click.group(cls=Group, epilog=_EXAMPLE)
def person() -> None:
    """Those who may contribute."""


@person.command("add", epilog=_EXAMPLE)
@click.argument("name")
@click.option("--orcid", help="Their ORCID; its check digit is verified.")
@click.option("--contact", help="How to reach them; only curators and the operator see it.")
@as_json
def add(name: str, orcid: str | None, contact: str | None, as_json: bool) -> None:
    """Enter someone by NAME.

    Prints the id that stands for them for ever.
    """
    with open_ledger() as ledger:
        from hotface_api.ledger.people import add_contributor  # noqa: PLC0415 - whole service

        card = add_contributor(ledger, name, orcid=orcid, contact=contact)
    if as_json:
        print_json(asdict(card))
    else:
        click.echo(card.contributor)


@person.command("list")
@as_json
def list_them(as_json: bool) -> None:
    """List everyone entered."""
    with open_ledger() as ledger:
        from hotface_api.ledger.people import list_people  # noqa: PLC0415 - whole service

        cards = list_people(ledger)
    listing(
        cards,
        ["id", "since", "erased", "orcid", "name"],
        lambda one: [one.contributor, day(one.made_at), day(one.erased_at), one.orcid, one.name],
        as_json=as_json,
    )


@person.command("erase")
@click.argument("contributor")
@click.option("--remarks", is_flag=True, help="Blank what they wrote in reviews too.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@as_json
def erase(contributor: str, remarks: bool, yes: bool, as_json: bool) -> None:
    """Erase who a CONTRIBUTOR is.

    Their keys are revoked. What they gave stays, under the id.
    """
    if not yes:
        click.confirm(
            f"Erase the name of {contributor}? It cannot be brought back", abort=True, err=True
        )
    with open_ledger() as ledger:
        from hotface_api.ledger.people import erase_person  # noqa: PLC0415 - whole service

        erase_person(ledger, contributor, remarks=remarks)
    if as_json:
        print_json({"contributor": contributor, "erased": True, "remarks": remarks})
    else:
        click.echo(f"{contributor} is erased; their keys are revoked")


@click.group(cls=Group, epilog=_EXAMPLE)
def key() -> None:
    """Keys that contributors and curators write with."""


@key.command("make", epilog=_EXAMPLE)
@click.argument("contributor")
@click.option(
    "--role",
    type=click.Choice(["contributor", "curator"]),
    default="contributor",
    show_default=True,
    help="A curator may review, but never what they handed in themselves.",
)
@click.option("--label", default="", help="What it is for, for the list.")
@click.option("--days", type=click.IntRange(1, 3660), help="How long it holds; else for ever.")
@as_json
def make(contributor: str, role: str, label: str, days: int | None, as_json: bool) -> None:
    """Make a key for a CONTRIBUTOR. It is printed once and cannot be shown again."""
    lives = None if days is None else timedelta(days=days)
    with open_ledger() as ledger:
        from hotface_api.ledger.keys import make_key  # noqa: PLC0415 - whole service

        made = make_key(ledger, contributor, role, label=label, lives=lives)
    if as_json:
        print_json({"token": made.token, **asdict(made.card)})
    else:
        click.echo(made.token)
    click.echo("Keep it now: only its hash is stored. Use it as HOTFACE_KEY.", err=True)


@key.command("list")
@as_json
def list_keys(as_json: bool) -> None:
    """List every key, newest first.

    By its id: the secret is not stored.
    """
    with open_ledger() as ledger:
        from hotface_api.ledger import keys  # noqa: PLC0415 - whole service

        cards = keys.list_keys(ledger)
    listing(
        cards,
        ["id", "role", "of", "expires", "last used", "revoked", "label"],
        lambda one: [
            one.id,
            one.role,
            one.contributor,
            day(one.expires_at),
            day(one.last_used_at),
            day(one.revoked_at),
            one.label,
        ],
        as_json=as_json,
    )


@key.command("revoke")
@click.argument("id")
@as_json
def revoke(id: str, as_json: bool) -> None:  # noqa: A002 - the word of the list
    """Revoke a key by its ID.

    Its visible front (hf_contributor_...) will do too. From its next request on it is refused by
    every worker.
    """
    with open_ledger() as ledger:
        from hotface_api.ledger.keys import revoke_key  # noqa: PLC0415 - whole service

        card = revoke_key(ledger, id.rpartition("_")[2])
    if as_json:
        print_json(asdict(card))
    else:
        click.echo(f"{card.prefix} is revoked since {day(card.revoked_at)}")


@key.command("show")
@acting
def show(session: Session) -> None:
    """Show whose key you send.

    What it may do and how long it holds; never the key itself.
    """
    card = session.client().key_card()
    click.echo(card.to_json() if session.as_json else plain(card))


COMMANDS: Final = (person, key)
