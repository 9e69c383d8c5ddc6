"""The files of a package, from a folder or out of a zip, by plain name and of bounded size.

Nothing is ever unpacked to disk: an archive is read in memory, a member at a time, and what a
member claims about its own size is not believed.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from pathlib import Path
from typing import Final, Protocol

__all__ = ["DESCRIPTOR", "MAX_FILE", "MAX_TOTAL", "Files", "FilesError", "open_files"]

DESCRIPTOR: Final = "datapackage.json"
MAX_FILE: Final = 32 * 2**20
MAX_TOTAL: Final = 64 * 2**20
MAX_MEMBERS: Final = 64
_PLAIN: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")


class FilesError(ValueError):
    """A file that is not there, too large, or not what it says."""


class Files(Protocol):
    """Where a package's files are read from."""

    descriptor: str

    def read(self, name: str) -> bytes:
        """Give the content of a file, or raise FilesError."""


def _check_name(name: str) -> None:
    if not _PLAIN.fullmatch(name):
        raise FilesError(f"{name[:80]!r} is not a plain file name beside {DESCRIPTOR}")


def _bounded(content: bytes, name: str) -> bytes:
    if len(content) > MAX_FILE:
        raise FilesError(f"{name} is larger than {MAX_FILE >> 20} MiB")
    return content


class _Folder:
    """A package laid out in a folder."""

    def __init__(self, descriptor: Path) -> None:
        self.descriptor = descriptor.name
        self._folder = descriptor.parent

    def read(self, name: str) -> bytes:
        _check_name(name)
        try:
            with (self._folder / name).open("rb") as file:
                return _bounded(file.read(MAX_FILE + 1), name)
        except OSError as error:
            raise FilesError(f"cannot be read: {error.strerror}") from error


class _Archive:
    """A package in a zip file."""

    descriptor = DESCRIPTOR

    def __init__(self, path: Path) -> None:
        self._contents: dict[str, bytes] = {}
        try:
            with zipfile.ZipFile(path) as archive:
                self._read_all(archive)
        except OSError as error:
            raise FilesError(f"cannot be read: {error.strerror or error}") from error
        except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError) as err:
            raise FilesError(f"is not a zip file that can be read: {err}") from err

    def _read_all(self, archive: zipfile.ZipFile) -> None:
        members = archive.infolist()
        if len(members) > MAX_MEMBERS:
            raise FilesError(f"holds {len(members)} files; a package has at most {MAX_MEMBERS}")
        total = 0
        for member in members:
            _check_name(member.filename)
            if member.filename in self._contents:
                raise FilesError(f"holds {member.filename} twice")
            with archive.open(member) as file:
                content = _bounded(file.read(MAX_FILE + 1), member.filename)
            total += len(content)
            if total > MAX_TOTAL:
                raise FilesError(f"unpacks to more than {MAX_TOTAL >> 20} MiB")
            self._contents[member.filename] = content

    def read(self, name: str) -> bytes:
        _check_name(name)
        try:
            return self._contents[name]
        except KeyError:
            raise FilesError("is not in the zip file") from None


def open_files(path: Path) -> Files:
    """Open a package given by its ``datapackage.json`` or as a ``.zip``.

    Raises
    ------
    FilesError
        If a zip cannot be read, is too large, or holds anything but plain files.
    """
    return _Archive(path) if path.suffix.lower() == ".zip" else _Folder(path)
