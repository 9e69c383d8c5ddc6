"""All commands in one group; the module of a command is loaded when it is called."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

import click

from hotface_api import __version__
from hotface_api.cli.session import Group, no_key_here

__all__ = ["HOMES", "hotface"]

_SECTIONS: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "Ask": {
        "materials": ("ask", "the materials, all or some"),
        "show": ("ask", "what is known of a material or one property"),
        "survival": ("ask", "does it stand the fire?"),
        "compare": ("place", "which material where in the wall?"),
        "estimate": ("mixes", "what will the mix be?"),
        "search": ("mixes", "which mixes are worth trying?"),
        "export": ("carry", "the data as files"),
    },
    "Hand in and review": {
        "submit": ("contribute", "hand in measurements"),
        "correct": ("contribute", "put a figure in the place of yours"),
        "withdraw": ("contribute", "take a value of yours back"),
        "reply": ("contribute", "answer a curator's question"),
        "contributions": ("curate", "yours, or what waits for review"),
        "contribution": ("curate", "one of them, and how it stands"),
        "review": ("curate", "accept, decline or ask"),
    },
    "Run a service": {
        "serve": ("serve", "answer over HTTP"),
        "load": ("database", "bring data into the database"),
        "check": ("database", "is the database ready?"),
        "person": ("people", "who may contribute"),
        "key": ("people", "the keys they write with"),
        "backup": ("copies", "copy the database while it is in use"),
        "restore": ("copies", "put a copy in its place"),
        "audit": ("copies", "is the record of contributions whole?"),
        "completion": ("complete", "the Tab key for your shell"),
    },
}
HOMES: Final = {
    name: module for section in _SECTIONS.values() for name, (module, _) in section.items()
}
"""Module of each command."""

_EXAMPLE: Final = """\
\b
A pottery club casts the lid and flue collar of a small wood-fired kiln:
  hotface survival expanded-perlite '1050 degC'    does it stand the fire?
  hotface show mullite thermal_conductivity        what is known of it?
  hotface compare chamotte expanded-clay --temperature '1050 degC'
  hotface estimate lid.toml                        what will the mix be?
  hotface submit lid.csv --licence CC0-1.0         what we measured ourselves
  hotface serve                                    the same, for other programs

\b
Leaves with
  0    done
  1    what was handed in is refused; nothing was written
  2    wrong usage
  3    borderline or unknown (survival and compare with --exit-code);
       not ready (check); the record does not fit (audit)
  4    no (survival and compare with --exit-code)
  5    the service answered with a problem, or a file is faulty
  6    no service is reached or installed
  130  stopped with Ctrl+C
"""


class _Commands(Group):
    """The commands, each loaded from its module when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Name every command."""
        return sorted(HOMES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load a command."""
        home = HOMES.get(cmd_name)
        if home is None:
            return None
        found: dict[str, click.Command] = {
            one.name or "": one for one in import_module(f"hotface_api.cli.{home}").COMMANDS
        }
        return found[cmd_name]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the commands by what they are for; none is loaded for it."""
        for title, section in _SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name, text) for name, (_, text) in section.items()])

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Look for a key before anything is read."""
        if not ctx.resilient_parsing:  # completion must not fail
            no_key_here(args)
        return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; a wrong name is told with the nearest."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            near = _nearest(args[0])
            if not near or "mean" in error.message:
                raise
            raise click.UsageError(f"{error.message} Did you mean {near!r}?", ctx) from error


def _nearest(word: str) -> str | None:
    from difflib import get_close_matches  # noqa: PLC0415 - needed for a slip only

    found: list[Any] = get_close_matches(word, HOMES, n=1)
    return found[0] if found else None


@click.group(
    cls=_Commands, epilog=_EXAMPLE, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="hotface")
def hotface() -> None:
    """Numbers for casting your own refractory parts, each with its source."""
