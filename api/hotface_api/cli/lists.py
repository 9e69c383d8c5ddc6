"""Survival questions from a file: a material a line, or a CSV table."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from hotface import BadQuantity, Question
from hotface_api.cli.session import LocalError

__all__ = ["read_questions"]

_COLUMNS: Final = ("material", "temperature", "with", "place", "load", "cycling", "margin")
_WORDS: Final[Mapping[str, Mapping[str, Any]]] = {
    "place": {"face": "face", "behind": "behind"},
    "load": {"yes": True, "no": False, "true": True, "false": False},
    "cycling": {"yes": True, "no": False, "true": True, "false": False},
}
_MOST_BYTES: Final = 8 * 1024 * 1024
_MOST: Final = 10_000


def read_questions(
    file: Path, temperature: str | None, common: Mapping[str, Any]
) -> list[Question]:
    """Read the questions of a file.

    Parameters
    ----------
    file : Path
        ``-`` is standard input. The first line tells what it is: with the word ``material`` and
        commas a CSV table, else a list with a material a line, ``#`` before what is no material.
    temperature : str or None
        For lines that name none.
    common : mapping
        What holds for every line that does not say otherwise: ``with_``, ``place``, ``load``,
        ``cycling``, ``margin``.

    Raises
    ------
    LocalError
        If something cannot be read; the message names the line.
    """
    name = "standard input" if str(file) == "-" else file.name
    text = _text(file, name)
    first = text.lstrip().partition("\n")[0].strip()
    rows = _table(text, name) if _is_table(first) else _list(text)
    if not rows:
        raise LocalError(f"{name} names no material")
    if len(rows) > _MOST:
        raise LocalError(f"{name} holds {len(rows)} questions; at most {_MOST} are asked at once")
    return [_question(row, f"{name}, line {line}", temperature, common) for line, row in rows]


def _text(file: Path, name: str) -> str:
    try:
        if str(file) == "-":
            data = sys.stdin.buffer.read(_MOST_BYTES + 1)
        else:
            with file.open("rb") as opened:
                data = opened.read(_MOST_BYTES + 1)
    except OSError as error:
        raise LocalError(f"{name} cannot be read: {error.strerror}") from error
    if len(data) > _MOST_BYTES:
        raise LocalError(f"{name} is larger than {_MOST_BYTES} bytes; split it")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise LocalError(f"{name}, line {line}: this is not UTF-8; save it as UTF-8") from error


def _is_table(first: str) -> bool:
    names = [word.strip().strip('"') for word in first.split(",")]
    return names[0] == "material" or (len(names) > 1 and "material" in names)


def _list(text: str) -> list[tuple[int, dict[str, str]]]:
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        word = line.partition("#")[0].strip()
        if word:
            rows.append((number, {"material": word}))
    return rows


def _table(text: str, name: str) -> list[tuple[int, dict[str, str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows = []
    try:
        names = [word.strip() for word in next(reader)]
        _check_columns(names, name)
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(names):
                raise LocalError(
                    f"{name}, line {reader.line_num}: {len(cells)} cells where {len(names)} belong"
                )
            said = {key: cell.strip() for key, cell in zip(names, cells, strict=True)}
            rows.append((reader.line_num, {key: cell for key, cell in said.items() if cell}))
    except csv.Error as error:
        raise LocalError(f"{name}, line {reader.line_num}: this is not CSV: {error}") from error
    return rows


def _check_columns(names: list[str], file: str) -> None:
    for name in names:
        if name not in _COLUMNS:
            near = get_close_matches(name, _COLUMNS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(_COLUMNS)}"
            raise LocalError(f"{file}, line 1: there is no column {name!r}; {hint}")
    if len(set(names)) < len(names):
        raise LocalError(f"{file}, line 1: a column stands twice")


def _question(
    row: Mapping[str, str], where: str, temperature: str | None, common: Mapping[str, Any]
) -> Question:
    if "material" not in row:
        raise LocalError(f"{where}: the material is missing")
    asked = row.get("temperature", temperature)
    if asked is None:
        raise LocalError(
            f"{where}: the temperature is missing; give a column, or one for all after the file"
        )
    said = dict(common)
    for name in ("with", "margin"):
        if name in row:
            said["with_" if name == "with" else name] = row[name]
    for name, words in _WORDS.items():
        if name in row:
            if row[name].lower() not in words:
                raise LocalError(f"{where}: {name} is {' or '.join(words)}, not {row[name]!r}")
            said[name] = words[row[name].lower()]
    question = Question(row["material"], asked, **said)
    try:
        question.to_json()
    except BadQuantity as error:
        raise LocalError(f"{where}: {error}") from error
    return question
