"""What to weigh out to fill a mould, and what is published on drying the piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from hotface._decode import decode, listed, point, span
from hotface._quantities import Figure
from hotface._ranges import Range
from hotface._show import html_fold, html_table
from hotface.units import UNITS

__all__ = ["Casting", "Drying", "DryingStep", "Practice", "Weighing"]


@dataclass(frozen=True, slots=True)
class Weighing:
    """What to weigh out or measure of one constituent; a range, because the yield is uncertain."""

    material: str
    dry_mass: Range | None
    amount: Range | None
    measured_as: str | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> Weighing:
        """Read one line of a casting."""
        return decode(cls, document, dry_mass=Range.from_json, amount=Range.from_json)

    def __str__(self) -> str:
        volume = self.amount is not None and UNITS[self.amount.unit].dimension == "volume"
        loose = " loose" if volume and self.measured_as == "loose" else ""
        mass = f" (dry {self.dry_mass})" if volume and self.dry_mass is not None else ""
        return f"{self.material}: {self.amount}{loose}{mass}"


@dataclass(frozen=True, slots=True)
class Practice:
    """What a published text says on drying, and where."""

    practice: str
    statement: str
    source: str | None
    locator: str | None

    def __str__(self) -> str:
        where = ", ".join(one for one in (self.source, self.locator) if one)
        return f"{self.statement} ({where})" if where else self.statement


@dataclass(frozen=True, slots=True)
class DryingStep:
    """One step of the first heat as published; ``None`` where the text does not say."""

    title: str
    reaches: Range | None
    ramp_at_most: Figure | None
    hold: Figure | None
    takes_at_least: Figure | None
    statement: str
    practice: str
    source: str | None
    locator: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> DryingStep:
        """Read one step."""
        return decode(
            cls, document, reaches=span, ramp_at_most=point, hold=point, takes_at_least=point
        )

    def __str__(self) -> str:
        said = [
            f"to {self.reaches}" if self.reaches else "",
            f"at most {self.ramp_at_most}" if self.ramp_at_most else "",
            f"hold {self.hold}" if self.hold else "",
            f"takes at least {self.takes_at_least}" if self.takes_at_least else "",
        ]
        return f"{self.title}: {', '.join(one for one in said if one)} ({self.source})"


@dataclass(frozen=True, slots=True)
class Drying:
    """What is published on drying a piece of this thickness. Read ``promise``: no guarantee.

    Attributes
    ----------
    steps : tuple of DryingStep
        In order; ``reason`` says why where there are none.
    takes_at_least : Figure or None
        All steps together.
    others : tuple of Practice
        Published practice that disagrees.
    promise : str
        What this does not promise.
    """

    thickness: Figure | None
    water_unbound: Range | None
    water_bound: Range | None
    steps: tuple[DryingStep, ...]
    takes_at_least: Figure | None
    others: tuple[Practice, ...]
    promise: str
    reason: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> Drying | None:
        """Read what is published on drying; ``None`` stays ``None``."""
        if document is None:
            return None
        return decode(
            cls,
            document,
            thickness=point,
            water_unbound=Range.from_json,
            water_bound=Range.from_json,
            steps=listed(DryingStep.from_json),
            takes_at_least=point,
            others=listed(lambda raw: decode(Practice, raw)),
        )

    def __str__(self) -> str:
        lines = [f"  {number}. {one}" for number, one in enumerate(self.steps, start=1)]
        lines += [f"  {self.reason}"] if self.reason else []
        lines += [f"  but: {one}" for one in self.others]
        return "\n".join([f"drying a piece {self.thickness} thick. {self.promise}", *lines])


@dataclass(frozen=True, slots=True)
class Casting:
    """What to mix to fill a mould.

    Attributes
    ----------
    mould_volume : Figure
        Volume to fill.
    spare : float
        Share mixed beyond it.
    batches : Range or None
        How often the mix as given fills the mould; ``None`` where it is given in parts.
    one_part : Range or None
        How big one part is, where the mix is given in parts.
    constituents : tuple of Weighing
        The mix scaled to the mould.
    water : Range or None
        The water to pour in.
    piece : mapping of str to Range
        What the piece weighs by state, without the spare.
    drying : Drying or None
        Where the thickness of the piece was given.
    """

    mould_volume: Figure
    spare: float
    batches: Range | None
    constituents: tuple[Weighing, ...]
    water: Range | None
    one_part: Range | None = None
    piece: Mapping[str, Range | None] = field(default_factory=dict, hash=False)
    drying: Drying | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> Casting | None:
        """Read the casting of an estimate; ``None`` stays ``None``."""
        if document is None:
            return None
        return decode(
            cls,
            document,
            mould_volume=point,
            batches=Range.from_json,
            constituents=listed(Weighing.from_json),
            water=Range.from_json,
            one_part=Range.from_json,
            piece=lambda raw: {state: Range.from_json(one) for state, one in raw.items()},
            drying=Drying.from_json,
        )

    def rows(self) -> list[list[object]]:
        """Give what to weigh out, a row a constituent, water last."""
        rows: list[list[object]] = [
            [one.material, one.amount, one.measured_as, one.dry_mass] for one in self.constituents
        ]
        return [*rows, ["water", self.water, None, None]]

    def _caption(self) -> str:
        return f"to fill a mould of {self.mould_volume}, {self.spare:.0%} spare"

    def __str__(self) -> str:
        lines = [*(f"  {one}" for one in self.constituents), f"  water: {self.water}"]
        lines += [f"  the piece, {state}: {one}" for state, one in self.piece.items() if one]
        lines += [] if self.drying is None else [str(self.drying)]
        return "\n".join([self._caption(), *lines])

    def _repr_html_(self) -> str:
        head = ["material", "amount", "measured as", "dry mass"]
        notes = [f"The piece, {state}: {one}" for state, one in self.piece.items() if one]
        table = html_table(self._caption(), head, self.rows(), notes)
        if self.drying is None:
            return table
        said = [*self.drying.steps, self.drying.reason, *self.drying.others]
        return table + html_fold(
            f"Drying a piece {self.drying.thickness} thick. {self.drying.promise}",
            (one for one in said if one),
        )
