"""Writing a file whole or not at all, and telling whether bytes are a whole zip."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import BinaryIO

__all__ = ["is_zipfile", "write_whole"]


def write_whole(place: Path, content: bytes) -> None:
    """Write beside the file first, and put it in its place once all is written."""
    with NamedTemporaryFile("wb", dir=place.parent, prefix=f".{place.name}.", delete=False) as file:
        part = Path(file.name)
        try:
            file.write(content)
            file.close()
            os.replace(part, place)  # noqa: PTH105 - Path.replace says the same, longer
        except BaseException:
            file.close()
            part.unlink(missing_ok=True)
            raise


def is_zipfile(file: BinaryIO) -> bool:
    """Tell whether a file has the directory a zip ends with."""
    import zipfile  # noqa: PLC0415 - needed by an export only

    return zipfile.is_zipfile(file)
