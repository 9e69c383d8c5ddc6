"""What to ask of the mixes in a file: the file's own words and those of the command line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import click

from hotface import BadMixFile, BadQuantity, EstimateRequest, Measured, Musts, OnHand
from hotface_api.cli.files import check_keys, paired, read_document
from hotface_api.cli.session import LocalError

__all__ = ["estimate_request", "search_arguments"]

_STATES: Final = ("fresh", "demoulded", "dried", "fired")
_MEASURED: Final = ("bulk_density", "thermal_conductivity", "spread", *_STATES)
_SEARCH_KEYS: Final = (
    "on_hand",
    "musts",
    "wishes",
    "fired",
    "state",
    "at",
    "shares_by",
    "water",
    "candidates",
    "results",
    "coverage",
    "seed",
)
_AS_IT_STANDS: Final = ("state", "water")
_MUSTS: Final = (
    "service_limit_above",
    "density_below",
    "conductivity_below",
    "conductivity_at",
    "allow_unproven",
)


def estimate_request(file: Path, said: Mapping[str, Any]) -> EstimateRequest:
    """Read a mix file, and put what the command line says before what it says.

    Parameters
    ----------
    file : Path
    said : mapping
        Options by their names; what is None or empty is not said.

    Raises
    ------
    BadMixFile, BadQuantity, click.UsageError
    """
    request = EstimateRequest.from_file(file)
    try:
        own = EstimateRequest(request.mix, **_options(said))
    except BadQuantity:
        raise
    except ValueError as error:  # what goes together was said apart
        raise click.UsageError(str(error)) from error
    options = {**request.options, **own.options}
    if "mould" in own.options and "mould" in request.options:
        options["mould"] = {**request.options["mould"], **own.options["mould"]}
    return EstimateRequest.from_dict({"mix": own.to_json()["mix"], **options})


def _options(said: Mapping[str, Any]) -> dict[str, Any]:
    """Give the options that were said, as the SDK takes them."""
    options: dict[str, Any] = {
        name: said[name]
        for name in ("fired", "state", "coverage", "seed", "draws", "mould", "thickness", "rule")
        if said[name] is not None
    }
    if said["at"]:
        options["at"] = list(said["at"])
    if said["spare"] is not None:
        options["spare"] = _share(said["spare"], "--spare")
    if said["measured"]:
        options["measured"] = _measured(said["measured"])
    if said["rule_option"]:
        if said["rule"] is None:
            raise click.UsageError("--rule-option goes with --rule")
        options["rule_options"] = {
            name: _number(text, "--rule-option")
            for name, text in _pairs(said["rule_option"], "--rule-option")
        }
    return options


def _pairs(texts: Iterable[str], option: str) -> list[tuple[str, str]]:
    pairs = []
    for text in texts:
        name, equals, value = text.partition("=")
        if not (equals and name.strip() and value.strip()):
            raise click.BadParameter(f"write it NAME=VALUE, not {text!r}", param_hint=option)
        pairs.append((name.strip(), value.strip()))
    return pairs


def _number(text: str, option: str) -> float:
    try:
        return float(text)
    except ValueError as error:
        raise click.BadParameter(f"{text!r} is no number", param_hint=option) from error


def _share(text: str, option: str) -> float:
    """Read a share: 0.1 or 10%."""
    plain = text.strip()
    if plain.endswith("%"):
        return _number(plain[:-1], option) / 100.0
    return _number(plain, option)


def _measured(texts: Iterable[str]) -> Measured:
    said: dict[str, Any] = {}
    densities: dict[str, str] = {}
    for name, value in _pairs(texts, "--measured"):
        if name not in _MEASURED:
            raise click.BadParameter(
                f"{name!r} is not taken here; it is {', '.join(_MEASURED)}", param_hint="--measured"
            )
        if name in _STATES:
            densities[name] = value
        elif name == "spread":
            said["spread"] = _share(value, "--measured")
        elif name == "thermal_conductivity":
            figure, _, temperature = value.partition(" at ")
            said["thermal_conductivity"] = figure.strip()
            said["thermal_conductivity_at"] = temperature.strip() or None
        else:
            said[name] = value
    return Measured(**said, densities=densities)


def search_arguments(file: Path, said: Mapping[str, Any]) -> dict[str, Any]:
    """Read a search file into the arguments of ``Client.search_mixes``.

    Raises
    ------
    LocalError
        If something in it cannot be read; the message names the place.
    """
    content = read_document(file)
    try:
        return _search(content, said)
    except (LocalError, BadQuantity, BadMixFile) as error:
        raise LocalError(f"{file.name}: {error}") from error


def _search(content: Mapping[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    check_keys(content, _SEARCH_KEYS, "the file")
    lines = content.get("on_hand")
    if not isinstance(lines, list) or not lines:
        raise LocalError("it holds nothing on hand; begin each material with [[on_hand]]")
    asked: dict[str, Any] = {
        key: value if key in _AS_IT_STANDS else paired(value)
        for key, value in content.items()
        if key not in ("on_hand", "musts")
    }
    asked["on_hand"] = [_on_hand(line, number) for number, line in enumerate(lines, start=1)]
    musts = content.get("musts")
    if musts:
        if not isinstance(musts, Mapping):
            raise LocalError("musts must be a table")
        check_keys(musts, _MUSTS, "musts")
        asked["must"] = Musts(**paired(musts))
    asked.update({key: value for key, value in said.items() if value is not None})
    return asked


def _on_hand(line: Any, number: int) -> OnHand:
    where = f"on_hand {number}"
    if not isinstance(line, Mapping) or not isinstance(line.get("material"), str):
        raise LocalError(f"{where} must be a table with a material")
    details = {key: paired(value) for key, value in line.items() if key != "share"}
    share = line.get("share", {})
    if not isinstance(share, Mapping):
        raise LocalError(f"{where}: share is a table with low and high")
    for end in ("low", "high"):
        value = details.pop(end, share.get(end))
        if value is not None:
            details[end] = _bound(value, f"{where}, {end}")
    try:
        return OnHand(details.pop("material"), **details)
    except TypeError as error:
        word = str(error).rpartition("argument ")[2]
        raise LocalError(f"{where} has the unknown key {word}") from error


def _bound(value: Any, where: str) -> float:
    if isinstance(value, str):
        return _share(value, where)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise LocalError(f"{where} is a share such as 0.4 or '40%'")
    return float(value)
