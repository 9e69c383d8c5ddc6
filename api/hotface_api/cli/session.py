"""What every command that asks has in common: whom it asks, in which units, and how it shows."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Final, Literal, TypeVar

import click

from hotface import (
    BadQuantity,
    Client,
    ConnectionFailed,
    HotfaceError,
    NotAnAnswer,
    NotInstalled,
    OldServer,
)
from hotface_api.cli import NO_SERVICE

__all__ = ["PROBLEM", "USAGE", "Group", "LocalError", "Session", "asking"]

USAGE: Final = 2
PROBLEM: Final = 5
_RETRIES: Final = 1  # someone is waiting
_Function = TypeVar("_Function", bound=Callable[..., Any])


def _exit_code(error: Exception) -> int:
    if isinstance(error, BadQuantity):
        return USAGE
    if isinstance(error, (ConnectionFailed, NotAnAnswer, NotInstalled, OldServer)):
        return NO_SERVICE
    return PROBLEM


class LocalError(Exception):
    """The database, a package or a setting on this machine cannot be used."""


class Group(click.Group):
    """A group whose commands end with a message and an exit code, never with a trace."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command and tell what went wrong."""
        try:
            return super().invoke(ctx)
        except (HotfaceError, LocalError) as error:
            click.echo(f"hotface: {error}", err=True)
            ctx.exit(_exit_code(error))


@dataclass(frozen=True, slots=True)
class Session:
    """Whom to ask, in which units, and whether to print JSON."""

    server: str | None
    units: Literal["si", "us"]
    as_json: bool

    def client(self) -> Client:
        """Open the client: the service named, or the embedded one."""
        if self.server is not None:
            try:
                key = os.environ.get("HOTFACE_KEY")
                return Client(self.server, key=key, retries=_RETRIES, units=self.units)
            except ValueError as error:
                raise click.BadParameter(str(error), param_hint="--server") from error
        return Client(transport=_embedded(), units=self.units)


def _embedded() -> Any:
    try:
        from hotface_api.embedded import open_transport  # noqa: PLC0415 - loads the whole service
    except ImportError as error:
        raise NotInstalled(
            f"{error.name} is not installed; pip install 'hotface[server]', or ask a service with"
            " --server https://..."
        ) from error
    return open_transport()


def asking(function: _Function) -> _Function:
    """Give a command the options of every question, as one ``Session``."""

    @wraps(function)
    def command(*args: Any, server: str | None, units: str, as_json: bool, **kwargs: Any) -> Any:
        session = Session(server, "us" if units == "us" else "si", as_json)
        return function(session, *args, **kwargs)

    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print the service's JSON."),
        click.option(
            "--units",
            type=click.Choice(["si", "us"]),
            default="si",
            help="Units of the answer; what you write may be in any unit.",
        ),
        click.option(
            "--server",
            metavar="URL",
            envvar="HOTFACE_SERVER",
            help="Ask this service (key in HOTFACE_KEY) instead of the one inside this program.",
        ),
    ):
        command = option(command)
    return command  # type: ignore[return-value]
