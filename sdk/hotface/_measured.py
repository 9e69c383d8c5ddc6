"""What the caller measured of the piece that is to be estimated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from difflib import get_close_matches
from typing import Any, TypeAlias

from hotface._errors import BadQuantity
from hotface._mix import stated
from hotface._quantities import QuantityLike, read_quantity

__all__ = ["Measured", "measured_json"]

MeasuredLike: TypeAlias = "Measured | Mapping[str, Any]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Figures measured on the piece; the estimate is narrowed to what agrees with them.

    Parameters
    ----------
    bulk_density : quantity, optional
        In the state asked about.
    densities : mapping of str to quantity, optional
        By state: ``fresh``, ``demoulded``, ``dried``, ``fired``.
    thermal_conductivity : quantity, optional
        In the state asked about, with ``thermal_conductivity_at``.
    thermal_conductivity_at : quantity, optional
        Mean temperature of that measurement.
    spread : float, optional
        Relative standard uncertainty taken for each of these figures (3 % by default).
    """

    bulk_density: QuantityLike | None = None
    densities: Mapping[str, QuantityLike] = field(default_factory=dict, hash=False)
    thermal_conductivity: QuantityLike | None = None
    thermal_conductivity_at: QuantityLike | None = None
    spread: float | str | None = None

    @classmethod
    def of(cls, given: Measured | Mapping[str, Any]) -> Measured:
        """Take what was measured by name.

        Raises
        ------
        BadQuantity
            If something is named that cannot be measured here.
        """
        if isinstance(given, Measured):
            return given
        known = [one.name for one in fields(cls)]
        for name in given:
            if name not in known:
                near = get_close_matches(str(name), known, n=1)
                hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
                raise BadQuantity(f"measured: {name!r} is not taken here; {hint}")
        plain = dict(given)
        conductivity = plain.get("thermal_conductivity")
        if isinstance(conductivity, Mapping):  # as the service writes it
            plain["thermal_conductivity"] = (conductivity["value"], conductivity["unit"])
            plain.setdefault("thermal_conductivity_at", conductivity.get("temperature"))
        return cls(**plain)

    def to_json(self) -> dict[str, Any]:
        """Give the figures as the service takes them.

        Raises
        ------
        BadQuantity
            If a figure cannot be read, or a conductivity lacks its temperature.
        """
        said = {
            "bulk_density": _density(self.bulk_density, "bulk_density"),
            "densities": {
                state: _density(one, f"density, {state}") for state, one in self.densities.items()
            }
            or None,
            "thermal_conductivity": self._conductivity(),
            "spread": self._spread(),
        }
        return stated(said)

    def _conductivity(self) -> dict[str, Any] | None:
        value, at = self.thermal_conductivity, self.thermal_conductivity_at
        if value is None and at is None:
            return None
        if value is None or at is None:
            raise BadQuantity(
                "measured: a conductivity and its temperature go together; give"
                " thermal_conductivity='0.25 W/(m.K)' and thermal_conductivity_at='400 degC'"
            )
        read = read_quantity(_plain(value), "measured thermal_conductivity", "thermal conductivity")
        temperature = read_quantity(_plain(at), "measured thermal_conductivity_at", "temperature")
        return {**read.to_json(), "temperature": temperature.to_json()}

    def _spread(self) -> float | None:
        if self.spread is None or isinstance(self.spread, (int, float)):
            return self.spread
        return read_quantity(self.spread, "measured spread", "1").to("1").value


def _plain(value: Any) -> Any:
    """Take the service's ``{"value", "unit"}`` too."""
    return (value["value"], value["unit"]) if isinstance(value, Mapping) else value


def _density(value: Any, what: str) -> dict[str, Any] | None:
    return (
        None
        if value is None
        else read_quantity(_plain(value), f"measured {what}", "density").to_json()
    )


def measured_json(given: Measured | Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Write what was measured as the service takes it; nothing stays nothing."""
    return Measured.of(given).to_json() or None if given else None
