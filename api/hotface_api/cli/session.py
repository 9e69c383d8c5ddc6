"""What every command that asks has in common: whom it asks, in which units, and how it shows."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar

import click

from hotface import (
    BadQuantity,
    Conflict,
    ConnectionFailed,
    HotfaceError,
    InvalidRequest,
    NotAnAnswer,
    NotInstalled,
    OldServer,
)
from hotface_api.cli import INTERRUPTED, NO_SERVICE, PROBLEM, REFUSED, USAGE
from hotface_api.cli.tables import plain

if TYPE_CHECKING:
    from hotface import Client

__all__ = [
    "Group",
    "LocalError",
    "RefusedError",
    "Session",
    "acting",
    "asking",
    "may_refuse",
    "no_key_here",
]

_RETRIES: Final = 1  # someone is waiting
_KEY: Final = re.compile(r"hf_(contributor|curator)_[0-9a-z]+_[A-Za-z0-9_-]{20,}")
_MOST_KEY: Final = 4096
_Function = TypeVar("_Function", bound=Callable[..., Any])


class LocalError(Exception):
    """The database, a package, a file or a setting on this machine cannot be used."""


class RefusedError(Exception):
    """What was handed in is refused, and nothing was written."""


_SAID_HERE: Final = (
    ("with Client.contribution", "with  hotface contribution"),
    ("give Client(key=...) or set HOTFACE_KEY", "set HOTFACE_KEY or give --key-file"),
    ("the key came from key=", "the key came from --key-file"),
    ("in one call (survivals, estimates)", "in one call, as  hotface survival --from  does"),
)
"""What the SDK advises, in the words of the command line."""


def _told(error: Exception) -> str:
    """Write an error with its advice in the words of the command line."""
    text = str(error)
    for there, here in _SAID_HERE:
        text = text.replace(there, here)
    return text


def _exit_code(error: Exception) -> int:
    if isinstance(error, RefusedError):
        return REFUSED
    if isinstance(error, BadQuantity):
        return USAGE
    if isinstance(error, (ConnectionFailed, NotAnAnswer, NotInstalled, OldServer)):
        return NO_SERVICE
    return PROBLEM


class Group(click.Group):
    """A group whose commands end with a message and an exit code, never with a trace."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command and tell what went wrong."""
        try:
            return super().invoke(ctx)
        except (HotfaceError, LocalError, RefusedError) as error:
            click.echo(f"hotface: {plain(_told(error))}", err=True)
            ctx.exit(_exit_code(error))
        except KeyboardInterrupt:
            click.echo("\nhotface: stopped before the end", err=True)
            ctx.exit(INTERRUPTED)


@contextmanager
def may_refuse() -> Iterator[None]:
    """Take a service's no to what is handed in as what it is: refused, not broken."""
    try:
        yield
    except (InvalidRequest, Conflict) as error:
        raise RefusedError(str(error)) from error


def no_key_here(words: list[str]) -> None:
    """Refuse a command line that holds a whole key, without repeating it.

    Raises
    ------
    click.UsageError
        Everyone on the machine can read what a command was started with.
    """
    if any(_KEY.search(word) for word in words):
        raise click.UsageError(
            "a key stands in the command line, where everyone on this machine can read it and the"
            " shell keeps it: have it revoked, and give the new one as HOTFACE_KEY or with"
            " --key-file"
        )


def _key_of(file: Path) -> str:
    """Give the key of a file."""
    try:
        with file.open(encoding="utf-8") as opened:
            mode = os.fstat(opened.fileno()).st_mode
            text = opened.read(_MOST_KEY).strip()
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is no text file"
        raise LocalError(f"the key file {file} cannot be read: {why}") from error
    if not text or len(text.split()) != 1:
        raise LocalError(f"the key file {file} must hold one key and nothing else")
    if os.name == "posix" and mode & (stat.S_IRWXG | stat.S_IRWXO):
        click.echo(f"hotface: others may read {file};  chmod 600 {file}", err=True)
    return text


@dataclass(frozen=True, slots=True)
class Session:
    """Whom to ask, in which units, as at which revision, with which key, and whether to print JSON.

    ``writing`` is for what asks for a key and changes something.
    """

    server: str | None
    units: Literal["si", "us"]
    as_json: bool
    revision: int | None = None
    key_file: Path | None = None
    writing: bool = False

    def client(self) -> Client:
        """Open the client: the service named, or the embedded one. It ends with the command."""
        from hotface import Client  # noqa: PLC0415 - loads what sends, which not all need

        key = None if self.key_file is None else _key_of(self.key_file)
        if self.writing and key is None and not os.environ.get("HOTFACE_KEY", "").strip():
            raise LocalError(
                "this needs a key: put it into HOTFACE_KEY or a file given with --key-file; the"
                " operator of the service makes one with  hotface key make"
            )
        transport = _embedded(writable=self.writing) if self.server is None else None
        try:
            client = Client(
                self.server,
                transport=transport,
                key=key,
                retries=_RETRIES,
                units=self.units,
                revision=self.revision,
            )
        except ValueError as error:
            if transport is not None:
                transport.close()
            if "characters no key has" in str(error):
                raise LocalError(str(error)) from error
            raise click.BadParameter(str(error), param_hint="--server") from error
        click.get_current_context().call_on_close(client.close)
        return client


def _embedded(*, writable: bool = False) -> Any:
    try:
        from hotface_api.embedded import open_transport  # noqa: PLC0415 - loads the whole service
    except ImportError as error:
        raise NotInstalled(
            f"{error.name} is not installed; pip install 'hotface[server]', or ask a service with"
            " --server https://..."
        ) from error
    return open_transport(writable=writable)


_COMMON: Final = (
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
)
_DATED: Final = click.option("--revision", type=click.IntRange(1), help="As the data stood then.")
_KEYED: Final = click.option(
    "--key-file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="File that holds your key; else it is taken from HOTFACE_KEY.",
)


def asking(function: _Function) -> _Function:
    """Give a command the options of every question, as one ``Session``."""
    return _with_session(function, (*_COMMON, _DATED), writing=False)


def acting(function: _Function) -> _Function:
    """Give a command of a contributor or curator its options, as one ``Session`` that may write."""
    return _with_session(function, (*_COMMON, _KEYED), writing=True)


def _with_session(
    function: _Function, options: Sequence[Callable[[Any], Any]], *, writing: bool
) -> _Function:
    @wraps(function)
    def command(*args: Any, server: str | None, units: str, as_json: bool, **kwargs: Any) -> Any:
        said = {name: kwargs.pop(name) for name in ("revision", "key_file") if name in kwargs}
        chosen: Literal["si", "us"] = "us" if units == "us" else "si"
        session = Session(server, chosen, as_json, **said, writing=writing)
        return function(session, *args, **kwargs)

    for option in options:
        command = option(command)
    return command  # type: ignore[return-value]
