"""Which mixes of what is on hand are worth trying: the question and the answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Literal, Self

from hotface._decode import Kept, decode
from hotface._errors import BadQuantity
from hotface._estimate import Estimate
from hotface._frames import data_frame
from hotface._mix import Mix, stated
from hotface._quantities import QuantityLike, read_quantity, several
from hotface._request import EstimateRequest, state_json
from hotface._results import as_text
from hotface._show import html_table

if TYPE_CHECKING:
    from hotface._client import Client

__all__ = ["MixSearch", "Musts", "OnHand", "Wish", "WorthTrying", "search_body"]

Wish = Literal["conductivity", "density", "service_limit", "binder"]


@dataclass(frozen=True, slots=True, init=False)
class OnHand:
    """A material on hand, with the least and most of it a mix may hold.

    Parameters
    ----------
    material : str
        Material id, or a name of your own with ``kind`` and what you know of it.
    low, high : float
        Bounds of its share, between 0 and 1.
    **details
        What ``Mix.add`` takes besides: ``fill``, ``bucket``, ``grain_size``, ``pore_size``,
        ``crush_factor``, ``moisture``, ``properties``, ``kind``, ``like``.

    Examples
    --------
    >>> OnHand("cac-40", 0.15, 0.4).to_json()["share"]
    {'low': 0.15, 'high': 0.4}
    """

    material: str
    low: float
    high: float
    details: Mapping[str, Any] = field(hash=False)

    def __init__(self, material: str, low: float = 0.0, high: float = 1.0, **details: Any) -> None:
        for end, share in (("low", low), ("high", high)):
            if isinstance(share, bool) or not 0 <= share <= 1:
                raise BadQuantity(f"{material}: {end} is a share between 0 and 1, not {share!r}")
        if low > high:
            raise BadQuantity(f"{material}: the least share, {low:g}, is above the most, {high:g}")
        line = Mix(parts_by="mass").add(material, 1, **details).constituents[0]
        object.__setattr__(self, "material", material)
        object.__setattr__(self, "low", float(low))
        object.__setattr__(self, "high", float(high))
        object.__setattr__(self, "details", line.details)

    def to_json(self) -> dict[str, Any]:
        """Give it as the service takes it."""
        share = {"low": self.low, "high": self.high}
        return {"material": self.material, **self.details, "share": share}


@dataclass(frozen=True, slots=True, kw_only=True)
class Musts:
    """What a mix has to meet to be returned.

    Parameters
    ----------
    service_limit_above : quantity, optional
        Such as ``"1100 degC"``.
    density_below : quantity, optional
        Such as ``"1200 kg/m3"``, in the state asked about.
    conductivity_below, conductivity_at : quantity, optional
        Such as ``"0.4 W/(m.K)"`` at ``"600 degC"``; the two go together.
    allow_unproven : bool
        Whether a mix passes of which no service limit is held high enough, only none too low.
    """

    service_limit_above: QuantityLike | None = None
    density_below: QuantityLike | None = None
    conductivity_below: QuantityLike | None = None
    conductivity_at: QuantityLike | None = None
    allow_unproven: bool | None = None

    def to_json(self) -> dict[str, Any]:
        """Give the musts as the service takes them."""
        said: dict[str, Any] = {
            name: None if value is None else read_quantity(value, name, dimension).to_json()
            for name, value, dimension in (
                ("service_limit_above", self.service_limit_above, "temperature"),
                ("density_below", self.density_below, "density"),
                ("conductivity_below", self.conductivity_below, "thermal conductivity"),
                ("conductivity_at", self.conductivity_at, "temperature"),
            )
        }
        return stated({**said, "allow_unproven": self.allow_unproven})


def search_body(
    on_hand: Iterable[OnHand],
    must: Musts | None,
    wishes: Iterable[Wish] | None,
    *,
    state: tuple[QuantityLike | None, Any],
    at: QuantityLike | Iterable[QuantityLike] | None,
    water: float | None,
    **options: Any,
) -> dict[str, Any]:
    """Write a search as the service takes it."""
    fired, kind = state
    temperatures = None
    if at is not None:
        temperatures = [read_quantity(one, "at", "temperature").to_json() for one in several(at)]
    return stated(
        {
            "on_hand": [one.to_json() for one in on_hand],
            "musts": None if must is None else must.to_json() or None,
            "wishes": None if wishes is None else _words(wishes),
            "state": state_json(fired, kind, None),
            "at": temperatures,
            "water": None if water is None else {"ratio_to_fines": float(water)},
            **options,
        }
    )


def _words(wishes: str | Iterable[str]) -> list[str]:
    return [wishes] if isinstance(wishes, str) else list(wishes)


@dataclass(frozen=True, slots=True)
class WorthTrying:
    """A mix worth trying, the request that gives its estimate again, and that estimate."""

    mix: Mapping[str, Any] = field(hash=False)
    request: EstimateRequest = field(hash=False, repr=False)
    estimate: Estimate

    @classmethod
    def from_json(cls, raw: Mapping[str, Any], client: Client | None) -> WorthTrying:
        """Read one mix of a search; its ``request`` gives the same estimate again."""
        part = raw["estimate"]
        asked = EstimateRequest.from_dict(raw["request"])
        return cls(raw["mix"], asked, Estimate.from_json(part, partial(as_text, part), client))

    def amounts(self) -> dict[str, Any]:
        """Give the amount of each material as the service writes it."""
        return {one["material"]: one["amount"] for one in self.mix["constituents"]}

    def shares(self) -> dict[str, float | None]:
        """Give the share of each material in the dry mass."""
        parts = self.estimate.composition.constituents
        return {one.material: one.mass_fraction for one in parts}

    def __str__(self) -> str:
        shares = ", ".join(
            f"{name} {share:.0%}" for name, share in self.shares().items() if share is not None
        )
        return f"{shares} of the dry mass"


@dataclass(frozen=True, slots=True)
class MixSearch(Kept):
    """Mixes worth trying; walk it, or take one by its place.

    Attributes
    ----------
    mixes : tuple of WorthTrying
        None of them beats another in every wish.
    looked_at : int
        How many candidates were weighed.
    met : mapping of str to int
        How many met each must.
    reason : str or None
        Why there is none, or fewer than asked for.
    """

    _marks: ClassVar[tuple[str, ...]] = ("looked_at", "mixes")

    mixes: tuple[WorthTrying, ...]
    looked_at: int
    met: Mapping[str, int] = field(hash=False)
    reason: str | None
    revision: int | None = None

    @classmethod
    def from_json(
        cls, document: Mapping[str, Any], text: str, client: Client | None = None
    ) -> Self:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text},
            mixes=lambda raw: tuple(WorthTrying.from_json(each, client) for each in raw),
            met=dict,
        )

    @classmethod
    def _read(cls, document: dict[str, Any], text: str, client: Client | None) -> Self:
        return cls.from_json(document, text, client)

    def __len__(self) -> int:
        return len(self.mixes)

    def __iter__(self) -> Iterator[WorthTrying]:
        return iter(self.mixes)

    def __getitem__(self, place: int) -> WorthTrying:
        return self.mixes[place]

    def to_dataframe(self) -> Any:
        """Give the mixes as a pandas data frame: a row a mix, shares and the typical figures.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        return data_frame([_row(one) for one in self.mixes])

    def figure(self) -> Any:
        """Draw the mixes by density and conductivity, as a matplotlib figure.

        Raises
        ------
        NotInstalled
            If matplotlib is not installed.
        """
        from hotface import _figures  # noqa: PLC0415 - drawn only when asked for

        return _figures.search_figure(self)

    def _table(self) -> list[list[object]]:
        rows: list[list[object]] = []
        for number, one in enumerate(self.mixes, start=1):
            found = one.estimate
            rows.append(
                [
                    number,
                    str(one),
                    found.get("bulk_density"),
                    found.get("thermal_conductivity"),
                    found.get("service_limit"),
                ]
            )
        return rows

    def __str__(self) -> str:
        head = f"{len(self)} mixes worth trying of {self.looked_at} looked at"
        lines = [f"  {row[0]}. {row[1]}: {row[2]}; {row[3]}; {row[4]}" for row in self._table()]
        return "\n".join([head, *lines, *([f"  {self.reason}"] if self.reason else [])])

    def _repr_html_(self) -> str:
        from hotface import _figures  # noqa: PLC0415 - drawn only when shown

        met = (f"met {name.replace('_', ' ')}: {count}" for name, count in self.met.items())
        table = html_table(
            f"{len(self)} mixes worth trying of {self.looked_at} looked at",
            ["", "of the dry mass", "bulk density", "conductivity", "service limit"],
            self._table(),
            [*([self.reason] if self.reason else []), *met],
        )
        return _figures.shown(_figures.search_figure, self) + table


def _row(one: WorthTrying) -> dict[str, Any]:
    found = one.estimate
    row: dict[str, Any] = {f"share of {name}": share for name, share in one.shares().items()}
    density, curve, limit = (
        found.get(name) for name in ("bulk_density", "thermal_conductivity", "service_limit")
    )
    if density is not None:
        row |= {f"bulk_density_{end}": v for end, v in density.magnitudes._asdict().items()}
        row["bulk_density_unit"] = density.unit
    if curve is not None:
        unit = curve.temperature_unit
        for temperature, spread in curve:
            at = f"thermal_conductivity_at_{temperature:g}_{unit}"
            row |= {f"{at}_{end}": v for end, v in spread.magnitudes._asdict().items()}
        row["thermal_conductivity_unit"] = curve.unit
    if limit is not None:
        row["service_limit_low"] = limit.range.magnitudes.low
        row["service_limit_high"] = limit.range.magnitudes.high
        row["service_limit_unit"] = limit.range.unit
    return row
