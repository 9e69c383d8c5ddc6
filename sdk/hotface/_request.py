"""What to estimate of a mix, from Python or from a file.

The file is TOML (or JSON of the same shape), with quantities as text::

    water = "11 L"            # or water_to_binder = 0.45
    fired = "1000 degC"       # or state = "dried"
    at = ["200 degC", "600 degC"]

    [[constituents]]
    material = "cac-40"
    amount = "25 kg"

    [[constituents]]
    material = "expanded-clay"
    amount = "60 L"
    fill = "poured"

    [measured]                # what you know of the piece already
    bulk_density = "1150 kg/m3"

Further keys: ``parts_by``, ``moisture``, ``coverage``, ``seed``, ``draws``, ``mould``, ``spare``,
``thickness``, ``rule`` and ``rule_options`` at the top, under ``[measured]`` those of ``Measured``,
and in a constituent those of ``Mix.add``, such as
``bucket = { mass = "6.4 kg", volume = "20 L" }``. A JSON file may also be the service's own request
(``{"mix": ...}``); it is sent as it stands.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from os import PathLike
from pathlib import Path
from typing import Any, Final, Literal

from hotface._errors import BadMixFile
from hotface._measured import Measured, measured_json
from hotface._mix import Mix, stated
from hotface._quantities import QuantityLike, plain_quantity, read_quantity, several

__all__ = ["EstimateRequest", "StateKind", "state_json"]

StateKind = Literal["fresh", "demoulded", "air-dry", "dried", "fired"]
_MIX_KEYS: Final = ("water", "water_to_binder", "parts_by")
_OPTION_KEYS: Final = (
    "fired",
    "state",
    "moisture",
    "at",
    "measured",
    "coverage",
    "seed",
    "draws",
    "mould",
    "spare",
    "thickness",
    "rule",
    "rule_options",
)
_LINE_KEYS: Final = (
    "material",
    "amount",
    "measured_as",
    "fill",
    "bucket",
    "grain_size",
    "pore_size",
    "crush_factor",
    "moisture",
    "properties",
    "kind",
    "like",
)


@dataclass(frozen=True, slots=True, init=False)
class EstimateRequest:
    """A mix and what to estimate of it.

    Parameters
    ----------
    mix : Mix or mapping
        The mix, or the service's JSON for one.
    fired : str, tuple, Figure or pint.Quantity, optional
        Peak temperature the piece was or will be fired to.
    state : str or mapping, optional
        Instead of ``fired``: ``fresh``, ``demoulded``, ``air-dry`` or ``dried``.
    moisture : str, tuple, Figure, pint.Quantity or float, optional
        Water per dry mass in that state, if known; a plain number is a fraction.
    at : iterable of quantities, optional
        Temperatures to answer at.
    measured : Measured or mapping, optional
        What was measured of the piece, such as ``{"bulk_density": "1150 kg/m3"}``.
    coverage : float, optional
        Share of cases an interval should hold; 0.9 by default.
    seed : int, optional
        Seed of the draws.
    draws : int, optional
        How many of the draws to give with the answer, for a calculation of your own.
    mould : str, tuple, Figure or pint.Quantity, optional
        Volume to fill, such as ``"12 L"``: what to weigh out for it comes as ``casting``.
    spare : float, optional
        Share to mix beyond the mould's volume; with ``mould`` only.
    thickness : str, tuple, Figure or pint.Quantity, optional
        Of the piece in the mould: published practice for drying it comes with the casting.
    rule : str, optional
        One conductivity rule to use at every step, by its id, in place of the defaults.
    rule_options : mapping of str to float, optional
        What that rule needs besides.
    """

    mix: Mix | Mapping[str, Any]
    options: Mapping[str, Any]

    def __init__(
        self,
        mix: Mix | Mapping[str, Any],
        *,
        fired: QuantityLike | None = None,
        state: StateKind | Mapping[str, Any] | None = None,
        moisture: QuantityLike | float | None = None,
        at: QuantityLike | Iterable[QuantityLike] | None = None,
        measured: Measured | Mapping[str, Any] | None = None,
        coverage: float | None = None,
        seed: int | None = None,
        draws: int | None = None,
        mould: QuantityLike | None = None,
        spare: float | None = None,
        thickness: QuantityLike | None = None,
        rule: str | None = None,
        rule_options: Mapping[str, float] | None = None,
    ) -> None:
        options = {
            "state": state_json(fired, state, moisture),
            "at": None if at is None else [_temperature(one) for one in several(at)],
            "measured": measured_json(measured),
            "coverage": coverage,
            "seed": seed,
            "draws": draws,
            "mould": _mould(mould, spare, thickness),
            "rule": rule,
            "rule_options": None if rule_options is None else dict(rule_options),
        }
        object.__setattr__(self, "mix", mix)
        object.__setattr__(self, "options", stated(options))

    @classmethod
    def of(
        cls, asked: EstimateRequest | Mix | Mapping[str, Any], options: Mapping[str, Any]
    ) -> EstimateRequest:
        """Take a request, or make one of a mix and options."""
        if not isinstance(asked, EstimateRequest):
            return cls(asked, **options)
        if options:
            said = ", ".join(options)
            raise ValueError(f"the request says already what to estimate; leave out {said}")
        return asked

    def to_json(self) -> dict[str, Any]:
        """Give the request as the service takes it."""
        mix = self.mix.to_dict() if isinstance(self.mix, Mix) else dict(self.mix)
        return {"mix": mix, **self.options}

    @classmethod
    def from_dict(cls, content: Mapping[str, Any]) -> EstimateRequest:
        """Read the short form described in this module, or the service's own request.

        Raises
        ------
        BadMixFile
            If a key is unknown or missing.
        BadQuantity
            If an amount or temperature cannot be read.
        """
        if "mix" in content:
            return cls._verbatim(content)
        _check_keys(content, ("constituents", *_MIX_KEYS, *_OPTION_KEYS), "the file")
        lines = content.get("constituents")
        if not isinstance(lines, list) or not lines:
            raise BadMixFile("the file holds no constituents; begin each with [[constituents]]")
        mix = Mix(**{key: plain_quantity(content[key]) for key in _MIX_KEYS if key in content})
        for number, line in enumerate(lines, start=1):
            mix = _add(mix, line, f"constituent {number}")
        options = {key: plain_quantity(content[key]) for key in _OPTION_KEYS if key in content}
        return cls(mix, **options)

    @classmethod
    def _verbatim(cls, content: Mapping[str, Any]) -> EstimateRequest:
        made = cls(content["mix"])
        object.__setattr__(made, "options", {k: v for k, v in content.items() if k != "mix"})
        return made

    @classmethod
    def from_file(cls, path: str | PathLike[str]) -> EstimateRequest:
        """Read a mix file, TOML by default and JSON if its name ends in ``.json``.

        Raises
        ------
        BadMixFile
            If the file cannot be read or says something unknown; the message names the place.
        """
        place = Path(path)
        try:
            return cls.from_dict(_read(place))
        except (ValueError, TypeError) as error:
            raise BadMixFile(f"{place.name}: {error}") from error


def _read(place: Path) -> Mapping[str, Any]:
    try:
        text = place.read_text(encoding="utf-8")
    except OSError as error:
        raise BadMixFile(f"cannot be read: {error.strerror}") from error
    content: Any
    if place.suffix.lower() == ".json":
        content = json.loads(text)
    else:
        import tomllib  # noqa: PLC0415 - needed for files only

        content = tomllib.loads(text)
    if not isinstance(content, dict):
        raise BadMixFile("must hold one table (JSON: an object)")
    return content


def _check_keys(content: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    for key in content:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise BadMixFile(f"{where} has the unknown key {key!r}; {hint}")


def _add(mix: Mix, line: Any, where: str) -> Mix:
    if not isinstance(line, Mapping):
        raise BadMixFile(f"{where} must be a table with material and amount")
    _check_keys(line, _LINE_KEYS, where)
    for key in ("material", "amount"):
        if key not in line:
            raise BadMixFile(f"{where} lacks {key!r}")
    plain = {key: plain_quantity(value) for key, value in line.items()}
    bucket = plain.get("bucket")
    if isinstance(bucket, Mapping):
        _check_keys(bucket, ("mass", "volume"), f"the bucket of {where}")
        plain["bucket"] = (bucket.get("mass"), bucket.get("volume"))
    return mix.add(**plain)


def _temperature(temperature: QuantityLike) -> dict[str, Any]:
    return read_quantity(temperature, "at", "temperature").to_json()


def _mould(
    mould: QuantityLike | None, spare: float | str | None, thickness: QuantityLike | None
) -> dict[str, Any] | None:
    if mould is None:
        if spare is not None or thickness is not None:
            raise ValueError("spare and thickness go with a mould's volume; give mould too")
        return None
    plain = spare
    if isinstance(spare, str):
        plain = read_quantity(spare, "spare", "1").to("1").value
    said = {
        "volume": read_quantity(mould, "mould", "volume").to_json(),
        "spare": plain,
        "thickness": None
        if thickness is None
        else read_quantity(thickness, "thickness", "length").to_json(),
    }
    return stated(said)


def state_json(
    fired: QuantityLike | None,
    state: StateKind | Mapping[str, Any] | None,
    moisture: QuantityLike | float | None,
) -> dict[str, Any] | None:
    said: dict[str, Any]
    if fired is not None:
        if state not in (None, "fired"):
            raise ValueError("a piece is fired or in another state; give fired or state, not both")
        peak = read_quantity(fired, "fired", "temperature")
        said = {"kind": "fired", "temperature": peak.to_json()}
    elif isinstance(state, Mapping):
        return dict(state)
    elif state is None:
        if moisture is not None:
            raise ValueError("moisture needs a state, such as state='air-dry'")
        return None
    else:
        said = {"kind": state}
    if moisture is not None:
        plain = (moisture, "1") if isinstance(moisture, (int, float)) else moisture
        said["moisture"] = read_quantity(plain, "moisture", "1").to_json()
    return said
