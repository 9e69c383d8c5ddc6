"""Reading the small TOML and JSON files that commands take, and writing files whole."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from hotface_api.cli.session import LocalError

__all__ = ["check_keys", "paired", "read_document", "write_whole"]

_MOST_BYTES: Final = 8 * 1024 * 1024


def read_document(file: Path) -> dict[str, Any]:
    """Read a file of one table: JSON if its name ends in ``.json``, else TOML.

    Dates of TOML are given as text, as JSON has them.

    Raises
    ------
    LocalError
        If it cannot be read; the message names file and line.
    """
    try:
        with file.open("rb") as opened:
            data = opened.read(_MOST_BYTES + 1)
    except OSError as error:
        raise LocalError(f"{file} cannot be read: {error.strerror}") from error
    if len(data) > _MOST_BYTES:
        raise LocalError(f"{file.name} is larger than {_MOST_BYTES} bytes; split it")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise LocalError(
            f"{file.name}, line {line}: this is not UTF-8; save it as UTF-8"
        ) from error
    try:
        content = _parsed(text, is_json=file.suffix.lower() == ".json")
    except (ValueError, RecursionError) as error:
        raise LocalError(f"{file.name}: {error}") from error
    if not isinstance(content, dict):
        raise LocalError(f"{file.name} must hold one table (in JSON an object)")
    return content


def _parsed(text: str, *, is_json: bool) -> Any:
    if is_json:
        return json.loads(text, parse_constant=_no_constant)
    import tomllib  # noqa: PLC0415 - needed for files only

    return _plain(tomllib.loads(text))


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is no number")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, (dt.date, dt.time)) else value


def paired(value: Any) -> Any:
    """Give quantities as the service writes them as pairs of number and unit, at any depth.

    Examples
    --------
    >>> paired({"at": [{"value": 600, "unit": "Cel"}, "800 degC"]})
    {'at': [(600, 'Cel'), '800 degC']}
    """
    if isinstance(value, Mapping):
        if set(value) == {"value", "unit"}:
            return value["value"], value["unit"]
        return {key: paired(inner) for key, inner in value.items()}
    return [paired(inner) for inner in value] if isinstance(value, list) else value


def check_keys(content: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    """Refuse a key that is not known, naming the nearest.

    Raises
    ------
    LocalError
    """
    for key in content:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise LocalError(f"{where} has the unknown key {key!r}; {hint}")


def write_whole(place: Path, text: str) -> None:
    """Write a file whole or not at all: beside it first, then in its place.

    Raises
    ------
    LocalError
        If it cannot be written; what stood there stands there still.
    """
    import os  # noqa: PLC0415 - needed here only
    from tempfile import NamedTemporaryFile  # noqa: PLC0415

    try:
        with NamedTemporaryFile(
            "w",
            encoding="utf-8",
            newline="",
            dir=place.parent,
            prefix=f".{place.name}.",
            delete=False,
        ) as part:
            try:
                part.write(text)
                part.close()
                os.replace(part.name, place)  # noqa: PTH105 - Path.replace says the same, longer
            except BaseException:
                part.close()
                Path(part.name).unlink(missing_ok=True)
                raise
    except OSError as error:
        raise LocalError(f"{place} cannot be written: {error.strerror}") from error
