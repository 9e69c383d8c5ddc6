"""The command line; imports nothing before ``main`` runs, to be able to say what is missing.

Exit codes: 0 done; 2 wrong usage; 3 and 4 with ``--exit-code`` or ``check``: an answer other than
yes; 5 the service answered with a problem, or a file is faulty; 6 no service reached or installed.
"""

from __future__ import annotations

import sys

__all__ = ["NO_SERVICE", "main"]

NO_SERVICE = 6


def main() -> None:
    """Run the ``hotface`` command."""
    try:
        from hotface_api.cli.commands import hotface  # noqa: PLC0415 - see the module docstring
    except ImportError as error:
        name = error.name or "a part"
        sys.stderr.write(
            f"hotface: {name} is not installed, which the command line needs;"
            " install it with  pip install 'hotface[server]'\n"
        )
        raise SystemExit(NO_SERVICE) from error
    hotface(prog_name="hotface")
