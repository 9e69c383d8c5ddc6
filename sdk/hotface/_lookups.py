"""Single look-ups in the reference tables: cones and firings, oxides that meet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hotface._decode import Answered, decode, listed, point
from hotface._frames import data_frame
from hotface._quantities import Figure
from hotface._show import html_table
from hotface._survival import MeltPoint

__all__ = ["ConeFiring", "ConeMatch", "ConeReading", "Melting", "PhasePoint"]


@dataclass(frozen=True, slots=True)
class ConeReading:
    """Where one cone falls, by one source at one heating rate.

    ``temperature`` is ``None`` where the source does not say; ``reason`` then tells why.
    """

    series: str
    cone: str
    heating_rate: Figure | None
    temperature: Figure | None
    interpolated: bool
    unverified: bool
    reason: str | None
    source: str | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any] | None) -> ConeReading | None:
        """Read one reading; ``None`` stays ``None``."""
        if document is None:
            return None
        return decode(cls, document, heating_rate=point, temperature=point)

    def __str__(self) -> str:
        at = self.reason if self.temperature is None else str(self.temperature)
        rate = "" if self.heating_rate is None else f" at {self.heating_rate}"
        return f"{self.series} {self.cone}{rate}: {at}"


@dataclass(frozen=True, slots=True)
class ConeMatch:
    """The cones a temperature lies between, by one source: ``below`` is down, ``above`` stands."""

    series: str
    heating_rate: Figure | None
    source: str | None
    unverified: bool
    below: ConeReading | None
    above: ConeReading | None

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> ConeMatch:
        """Read one match."""
        return decode(
            cls,
            document,
            heating_rate=point,
            below=ConeReading.from_json,
            above=ConeReading.from_json,
        )

    def __str__(self) -> str:
        down = "none" if self.below is None else self.below.cone
        stands = "none" if self.above is None else self.above.cone
        rate = "" if self.heating_rate is None else f" at {self.heating_rate}"
        return f"{self.series}{rate}: {down} is down, {stands} still stands"


def _readings(raw: Any) -> tuple[ConeReading, ...]:
    return tuple(one for one in map(ConeReading.from_json, raw or ()) if one is not None)


@dataclass(frozen=True, slots=True)
class ConeFiring(Answered):
    """What a cone or a temperature means; a cone measures heat work, so the rate counts.

    Attributes
    ----------
    readings : tuple of ConeReading
        Where the cone asked about falls, by series, source and heating rate.
    matches : tuple of ConeMatch
        Between which cones the temperature asked about lies.
    """

    readings: tuple[ConeReading, ...]
    matches: tuple[ConeMatch, ...]
    revision: int | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str) -> ConeFiring:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text},
            readings=_readings,
            matches=listed(ConeMatch.from_json),
        )

    def to_dataframe(self) -> Any:
        """Give the readings as a pandas data frame.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        return data_frame(
            [
                {
                    "series": one.series,
                    "cone": one.cone,
                    **_columns("heating_rate", one.heating_rate),
                    **_columns("temperature", one.temperature),
                    "interpolated": one.interpolated,
                    "source": one.source,
                }
                for one in self.readings
            ]
        )

    def __str__(self) -> str:
        lines = [*map(str, self.readings), *map(str, self.matches)]
        return "\n".join(lines) or "nothing is held for it"

    def _repr_html_(self) -> str:
        rows = [[str(one), one.source] for one in self.readings]
        rows += [[str(one), one.source] for one in self.matches]
        return html_table("cones", ["reading", "source"], rows)


def _columns(name: str, figure: Figure | None) -> dict[str, Any]:
    if figure is None:
        return {name: None, f"{name}_unit": None}
    return {name: figure.value, f"{name}_unit": figure.unit}


@dataclass(frozen=True, slots=True)
class PhasePoint:
    """A published point at which some of the oxides that meet form a liquid."""

    id: str
    oxides: tuple[str, ...]
    phases: str
    kind: str
    temperature: Figure
    temperature_high: Figure | None
    composition: str | None
    source: str | None
    locator: str | None
    basis: str
    most_liquid: float | None
    unverified: bool

    @classmethod
    def from_json(cls, document: Mapping[str, Any]) -> PhasePoint:
        """Read one point."""
        return decode(cls, document, oxides=tuple, temperature=point, temperature_high=point)

    def __str__(self) -> str:
        high = "" if self.temperature_high is None else f" to {self.temperature_high}"
        return f"{self.temperature}{high}: {self.phases} ({'-'.join(self.oxides)}, {self.kind})"


@dataclass(frozen=True, slots=True)
class Melting(Answered):
    """What is published on the melting of oxides that meet.

    Attributes
    ----------
    first_melt_possible_from : MeltPoint or None
        The lowest cited liquid; a caution, not a limit.
    reacts : tuple of PhasePoint
        Every point of these oxides, from the lowest up.
    """

    oxides: tuple[str, ...]
    first_melt_possible_from: MeltPoint | None
    reacts: tuple[PhasePoint, ...]
    revision: int | None = None

    @classmethod
    def from_json(cls, document: Mapping[str, Any], text: str) -> Melting:
        """Read an answer and keep the text it came as."""
        return decode(
            cls,
            {**document, "text": text},
            oxides=tuple,
            first_melt_possible_from=MeltPoint.from_json,
            reacts=listed(PhasePoint.from_json),
        )

    def to_dataframe(self) -> Any:
        """Give the points as a pandas data frame.

        Raises
        ------
        NotInstalled
            If pandas is not installed.
        """
        return data_frame(
            [
                {
                    "oxides": "-".join(one.oxides),
                    "phases": one.phases,
                    "kind": one.kind,
                    **_columns("temperature", one.temperature),
                    "most_liquid": one.most_liquid,
                    "unverified": one.unverified,
                    "source": one.source,
                }
                for one in self.reacts
            ]
        )

    def _first(self) -> str:
        first = self.first_melt_possible_from
        if first is None:
            return "no cited liquid is held"
        amount = "" if first.most_liquid is None else f", at most {first.most_liquid:.0%} liquid"
        return f"first melt possible from {first.temperature}{amount}"

    def __str__(self) -> str:
        lines = [f"{', '.join(self.oxides)}: {self._first()}", *(f"  {one}" for one in self.reacts)]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        head = ["liquid from", "phases", "kind", "most liquid", "source"]
        rows = [
            [one.temperature, one.phases, one.kind, one.most_liquid, one.source]
            for one in self.reacts
        ]
        return html_table(f"{', '.join(self.oxides)}: {self._first()}", head, rows)
