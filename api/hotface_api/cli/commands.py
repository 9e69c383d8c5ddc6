"""All commands in one group."""

from __future__ import annotations

import click

from hotface_api import __version__
from hotface_api.cli import ask, carry, database, serve
from hotface_api.cli.session import Group

__all__ = ["hotface"]


_EXAMPLE = """\
\b
A pottery club casts the lid and flue collar of a small wood-fired kiln:
  hotface survival expanded-perlite '1050 degC'    does it stand the fire?
  hotface show mullite thermal_conductivity        what is known of it?
  hotface estimate lid.toml                        what will the mix be?
  hotface serve                                    the same, for other programs
"""


@click.group(cls=Group, epilog=_EXAMPLE, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="hotface")
def hotface() -> None:
    """Numbers for casting your own refractory parts, each with its source.

    Leaves with 0 when done, 2 for wrong usage, 5 when the service answers with a problem or a file
    is faulty, 6 when no service is reached. See survival --exit-code and check for 3 and 4.
    """


for command in (*ask.COMMANDS, *database.COMMANDS, *carry.COMMANDS, *serve.COMMANDS):
    hotface.add_command(command)
