"""What is handed in, from a TOML or JSON file: one submission, or one figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from hotface import BadContribution, BadQuantity, NewMaterial, NewSpecimen, Reported, Uncertainty
from hotface_api.cli.files import check_keys, paired, read_document
from hotface_api.cli.session import LocalError

__all__ = ["read_submission", "read_value"]

_KEYS: Final = ("licence", "source", "material", "measured_by", "specimen", "values")
_RENAMED: Final = {"temperature": "at", "with": "with_"}
_CONDITION: Final = {"with": "with_", "text": "condition"}


def read_submission(file: Path) -> dict[str, Any]:
    """Read a submission into the arguments of ``Client.submit`` and ``submit_specimen``.

    Raises
    ------
    LocalError
        If something in it cannot be read; the message names the place.
    """
    content = read_document(file)
    try:
        return _submission(content)
    except (LocalError, BadContribution, BadQuantity) as error:
        raise LocalError(f"{file.name}: {error}") from error


def read_value(file: Path) -> Reported | Mapping[str, Any]:
    """Read one figure: the whole file, its ``value``, or the only one of its ``values``.

    Raises
    ------
    LocalError
        If something in it cannot be read; the message names the place.
    """
    content = read_document(file)
    try:
        return _only_value(content)
    except (LocalError, BadContribution, BadQuantity) as error:
        raise LocalError(f"{file.name}: {error}") from error


def _only_value(content: Mapping[str, Any]) -> Reported | Mapping[str, Any]:
    if "value" in content:
        return _value(content["value"], "value")
    if "values" in content:
        values = content["values"]
        if not isinstance(values, list) or len(values) != 1:
            raise LocalError("a correction is one figure; the file holds more, or none")
        return _value(values[0], "value")
    return _value(content, "the file")


def _submission(content: Mapping[str, Any]) -> dict[str, Any]:
    check_keys(content, _KEYS, "the file")
    values = content.get("values")
    if not isinstance(values, list) or not values:
        raise LocalError("it holds no values; begin each with [[values]]")
    asked: dict[str, Any] = {
        name: content[name] for name in ("licence", "source", "measured_by") if name in content
    }
    asked["values"] = [_value(one, f"value {n}") for n, one in enumerate(values, start=1)]
    if "material" in content:
        asked["material"] = _made(NewMaterial, content["material"], "material")
    if "specimen" in content:
        asked["specimen"] = _made(NewSpecimen, content["specimen"], "specimen")
    return asked


def _made(kind: Any, given: Any, where: str) -> Any:
    """Make an object of the SDK from a table with its fields."""
    if not isinstance(given, Mapping):
        raise LocalError(f"{where} must be a table")
    known = tuple(one.name for one in fields(kind))
    check_keys(given, known, where)
    try:
        return kind(**paired(given))
    except TypeError as error:
        raise LocalError(f"{where}: {_missing(error)}") from error


def _missing(error: TypeError) -> str:
    """Say in plain words what a call lacks."""
    names = str(error).rpartition("argument")[2].lstrip("s: ")
    return f"{names} is missing" if "missing" in str(error) else str(error)


def _value(given: Any, where: str) -> Reported | Mapping[str, Any]:
    """Take a figure in the short form, or as the service has it (with ``printed``)."""
    if not isinstance(given, Mapping):
        raise LocalError(f"{where} must be a table")
    if "printed" in given:
        return given
    said = {_RENAMED.get(name, name): value for name, value in given.items()}
    condition = said.get("condition")
    if isinstance(condition, Mapping):
        del said["condition"]
        said |= {_CONDITION.get(name, name): value for name, value in condition.items()}
    if "uncertainty" in said:
        said["uncertainty"] = _made(Uncertainty, said["uncertainty"], f"{where}, uncertainty")
    if isinstance(said.get("at"), list):
        said["at"] = tuple(said["at"])
    try:
        made: Reported = _made(Reported, said, where)
        made.to_json()
    except (BadContribution, BadQuantity, TypeError) as error:
        raise LocalError(f"{where}: {error}") from error
    return made
