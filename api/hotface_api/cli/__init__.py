"""The command line; imports nothing before ``main`` runs, to be able to say what is missing.

Exit codes: 0 done; 1 what was handed in is refused; 2 wrong usage; 3 and 4 with ``--exit-code``,
``check`` or ``audit``: an answer other than yes; 5 the service answered with a problem, or a file
is faulty; 6 no service reached or installed; 130 stopped with Ctrl+C.
"""

from __future__ import annotations

import sys
from typing import Final

__all__ = ["INTERRUPTED", "NOT_YES", "NO_SERVICE", "PROBLEM", "REFUSED", "USAGE", "main"]

REFUSED: Final = 1
USAGE: Final = 2
NOT_YES: Final = 3
PROBLEM: Final = 5
NO_SERVICE: Final = 6
INTERRUPTED: Final = 130


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
    except KeyboardInterrupt:
        raise SystemExit(INTERRUPTED) from None
    hotface(prog_name="hotface")
