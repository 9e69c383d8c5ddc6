"""A mix and the request for its estimate, built step by step and never changed in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias

from hotface._errors import BadQuantity
from hotface._quantities import Figure, QuantityLike, read_quantity
from hotface._ranges import Range
from hotface._show import html_table

__all__ = ["Constituent", "MeasuredAs", "Mix", "OwnFigure", "PartsBy", "own_figure", "stated"]

MeasuredAs = Literal["loose", "absolute"]
PartsBy = Literal["loose", "mass", "absolute"]
OwnFigure: TypeAlias = "QuantityLike | Range | Mapping[str, Any]"
"""A figure of the caller's own: a quantity, a range, or the service's JSON for either."""


def stated(values: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out what is not said."""
    return {name: value for name, value in values.items() if value is not None}


def own_figure(value: OwnFigure, what: str, *dimensions: str) -> dict[str, Any]:
    """Write a figure of the caller's own: a quantity, low, typical and high, or several by name."""
    if isinstance(value, Range):
        return {**stated(value.magnitudes._asdict()), "unit": value.unit}
    if isinstance(value, Mapping):
        if "unit" in value:
            return dict(value)
        return {name: own_figure(one, f"{what}, {name}") for name, one in value.items()}
    return read_quantity(value, what, *dimensions).to_json()


@dataclass(frozen=True, slots=True)
class Constituent:
    """One line of a mix, as ``Mix.add`` makes it; ``details`` as the service takes them."""

    material: str
    amount: Figure
    details: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def to_json(self) -> dict[str, Any]:
        """Give the line as the service takes it."""
        return {"material": self.material, "amount": self.amount.to_json(), **self.details}


@dataclass(frozen=True, slots=True, init=False)
class Mix:
    """What goes into the bucket. Every method gives a new mix; none changes this one.

    Parameters
    ----------
    water : str, tuple, Figure or pint.Quantity, optional
        Mixing water by volume or mass, such as ``"11 L"``.
    water_to_binder : float, optional
        Instead of ``water``: mass of water per mass of hydraulic binder.
    parts_by : {"loose", "mass", "absolute"}, optional
        If amounts are plain parts (``add("cac-40", 3)``): what one part is.

    Examples
    --------
    >>> lid = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
    >>> [line.material for line in lid.constituents]
    ['cac-40', 'expanded-clay']
    """

    constituents: tuple[Constituent, ...]
    water: Figure | None
    water_to_binder: float | None
    parts_by: PartsBy | None

    def __init__(
        self,
        water: QuantityLike | None = None,
        *,
        water_to_binder: float | None = None,
        parts_by: PartsBy | None = None,
    ) -> None:
        if water is not None and water_to_binder is not None:
            raise ValueError("give the water as an amount or per mass of binder, not both")
        poured = None if water is None else _amount(water, "water", parts_by)
        object.__setattr__(self, "constituents", ())
        object.__setattr__(self, "water", poured)
        object.__setattr__(self, "water_to_binder", water_to_binder)
        object.__setattr__(self, "parts_by", parts_by)

    def add(
        self,
        material: str,
        amount: QuantityLike | float,
        *,
        measured_as: MeasuredAs | None = None,
        fill: str | None = None,
        bucket: tuple[QuantityLike, QuantityLike] | None = None,
        grain_size: OwnFigure | None = None,
        pore_size: OwnFigure | None = None,
        crush_factor: float | None = None,
        moisture: QuantityLike | float | None = None,
        properties: Mapping[str, OwnFigure] | None = None,
        kind: str | None = None,
        like: str | None = None,
    ) -> Mix:
        """Give the mix with one more constituent.

        Parameters
        ----------
        material : str
            Material id, or a name of your own for what is not held; then say ``kind`` too.
        amount : str, tuple, Figure, pint.Quantity or float
            Mass or volume, such as ``"25 kg"`` or ``"60 L"``; a plain number is parts.
        measured_as : {"loose", "absolute"}, optional
            What a volume is: of the heap in the bucket (the service's default) or of the grains.
        fill : str, optional
            How the bucket was filled, such as ``"poured"``.
        bucket : pair of quantities, optional
            Mass and volume of one bucket of it that you weighed: ``("6.4 kg", "20 L")``.
        grain_size, pore_size : quantity or Range, optional
            What the grains are like, where you know it better.
        crush_factor : float, optional
            Loose volume left after mixing as a share of that before.
        moisture : quantity or float, optional
            Water in it by mass of dry, such as ``"5 %"``, where it is weighed damp.
        properties : mapping, optional
            Your own measured properties of this constituent, by property id.
        kind : str, optional
            Kind of a material that is not held, such as ``"aggregate"``.
        like : str, optional
            A held material that fills what your own figures leave open.

        Returns
        -------
        Mix

        Raises
        ------
        BadQuantity
            If an amount or size cannot be read.
        """
        details = {
            "measured_as": measured_as,
            "fill": fill,
            "bucket": None if bucket is None else _bucket(bucket, material),
            "grain_size": _size(grain_size, f"grain size of {material}"),
            "pore_size": _size(pore_size, f"pore size of {material}"),
            "crush_factor": crush_factor,
            "moisture": None if moisture is None else _share(moisture, f"moisture of {material}"),
            "properties": _own_properties(properties, material),
            "kind": kind,
            "like": like,
        }
        poured = _amount(amount, f"amount of {material}", self.parts_by)
        line = Constituent(material, poured, stated(details))
        return self._with(constituents=(*self.constituents, line))

    def with_water(self, water: QuantityLike) -> Mix:
        """Give the same mix with other water."""
        return self._with(water=_amount(water, "water", self.parts_by), water_to_binder=None)

    def without(self, material: str) -> Mix:
        """Give the mix without a constituent."""
        kept = tuple(line for line in self.constituents if line.material != material)
        if len(kept) == len(self.constituents):
            raise ValueError(f"the mix holds no {material!r}")
        return self._with(constituents=kept)

    def _with(self, **changes: Any) -> Mix:
        changed = object.__new__(Mix)
        for name in ("constituents", "water", "water_to_binder", "parts_by"):
            object.__setattr__(changed, name, changes.get(name, getattr(self, name)))
        return changed

    def to_dict(self) -> dict[str, Any]:
        """Give the mix as the service takes it."""
        water: dict[str, Any] | None = None if self.water is None else self.water.to_json()
        if self.water_to_binder is not None:
            water = {"ratio_to_binder": self.water_to_binder}
        lines = [line.to_json() for line in self.constituents]
        return stated({"constituents": lines, "water": water, "parts_by": self.parts_by})

    def _water_text(self) -> str:
        if self.water_to_binder is not None:
            return f"{self.water_to_binder:g} of the binder's mass"
        return "none" if self.water is None else str(self.water)

    def __str__(self) -> str:
        parts = [f"{line.amount} {line.material}" for line in self.constituents]
        return f"{', '.join(parts) or 'nothing yet'}; water {self._water_text()}"

    def _repr_html_(self) -> str:
        rows = [
            [line.material, line.amount, line.details.get("fill")] for line in self.constituents
        ]
        return html_table(
            "mix", ["material", "amount", "fill"], [*rows, ["water", self._water_text(), ""]]
        )


def _amount(amount: QuantityLike | float, what: str, parts_by: PartsBy | None) -> Figure:
    """Read a mass or volume, or parts where the mix is one of parts."""
    if isinstance(amount, (int, float)):
        if parts_by is None:
            raise BadQuantity(
                f"{what}: {amount} has no unit; write it like '25 kg' or '60 L', or make the mix"
                " with Mix(parts_by='loose')"
            )
        return read_quantity((amount, "1"), what)
    if parts_by is not None:
        return read_quantity(amount, what, "1", "mass", "volume")
    return read_quantity(amount, what, "mass", "volume")


def _share(share: QuantityLike | float, what: str) -> dict[str, Any]:
    plain = (share, "1") if isinstance(share, (int, float)) else share
    return read_quantity(plain, what, "1").to_json()


def _size(size: OwnFigure | None, what: str) -> dict[str, Any] | None:
    return None if size is None else own_figure(size, what, "length")


def _bucket(bucket: tuple[QuantityLike, QuantityLike], material: str) -> dict[str, Any]:
    mass, volume = bucket
    what = f"bucket of {material}"
    return {
        "mass": read_quantity(mass, f"{what}, mass", "mass").to_json(),
        "volume": read_quantity(volume, f"{what}, volume", "volume").to_json(),
    }


def _own_properties(
    properties: Mapping[str, OwnFigure] | None, material: str
) -> dict[str, Any] | None:
    if not properties:
        return None
    return {name: own_figure(one, f"{name} of {material}") for name, one in properties.items()}
