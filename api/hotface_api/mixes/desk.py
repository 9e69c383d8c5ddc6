"""Settling what is used of one material for a mix: what is held, lent, or assumed and said so."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hotface_api.catalogue.properties import Asked, answer_rows
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import assumptions as take
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.dense import GRAIN_POROSITY, NEARLY_PORE_FREE, grain_words
from hotface_api.mixes.priors import binder_of
from hotface_api.mixes.request import Triple

__all__ = ["LEAVING", "POWDERS", "Desk", "Held", "Wanted"]

Row = Mapping[str, Any]
FloatArray = NDArray[np.float64]

LEAVING: Final = ("melting_temperature", "decomposition_temperature", "transformation_temperature")
POWDERS: Final = ("binder", "filler", "admixture", "mineral")
_CAC: Final = ("cac-", "calcium-aluminate")
_WATER_OF_ALUMINA: Final = 4 * 18.015 / 101.961
"""Kilograms of water a kilogram of alumina binds as C3AH6 + 2 AH3."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which inputs are wanted: a material, how its measure is filled, temperatures in kelvin."""

    material: str
    fill: str
    at: tuple[float, ...]


@dataclass(slots=True)
class Held:
    """Inputs of one material. Curves are (low, typical, high) over the temperatures, shape (T, 3).

    ``notes`` and ``citations`` go by the quantity they belong to, so that a figure of the caller's
    own takes its note with it.
    """

    material: str
    kind: str
    name: str
    binder: str
    is_powder: bool
    leaves: bool = False
    triples: dict[str, Triple] = field(default_factory=dict)
    curves: dict[str, FloatArray] = field(default_factory=dict)
    conductivity_is_grain: bool = False
    notes: dict[str, list[Assumption]] = field(default_factory=dict)
    citations: dict[str, set[str]] = field(default_factory=dict)
    oxides: dict[str, float] = field(default_factory=dict)


class Desk:
    """Settles the inputs of one material."""

    def __init__(
        self, reference: Reference, rows: Mapping[str, Sequence[Row]], wanted: Wanted
    ) -> None:
        self.reference = reference
        self.rows = rows
        self.wanted = wanted
        row = reference.materials[wanted.material]
        self.solid: str | None = row["solid"]
        self.found = Held(
            wanted.material,
            row["kind"],
            row["name"],
            binder_of(wanted.material, row["kind"]),
            is_powder=row["kind"] in POWDERS,
        )

    def held(self) -> Held:
        """Settle everything."""
        self.found.leaves = self.found.kind == "pore-former" or self._leaves()
        self._densities()
        self._water()
        self._sizes()
        self._oxides()
        self._conductivity()
        self._heat_capacity()
        self._expansion()
        return self.found

    def _of(self, material: str, name: str) -> list[Row]:
        return [row for row in self.rows.get(material, ()) if row["property"] == name]

    def _leaves(self) -> bool:
        """Tell whether the material is meant to leave on heating."""
        return any(
            row["event_kind"] == "leaves-by-design"
            for name in LEAVING
            for row in self._of(self.wanted.material, name)
        )

    def _say(self, quantity: str, code: str, text: str) -> None:
        note = Assumption(code, f"{self.found.name}: {text}.")
        self.found.notes.setdefault(quantity, []).append(note)

    def _cite(self, quantity: str, citations: Collection[str]) -> None:
        self.found.citations.setdefault(quantity, set()).update(citations)

    def _triple(
        self, name: str, material: str | None = None, *, fill: str | None = None, **asked: Any
    ) -> Triple | None:
        """Give the held interval of a property, else None."""
        place = material or self.wanted.material
        rows = self._of(place, name)
        if fill is not None:
            rows = [row for row in rows if (row["fill"] or "poured") == fill]
        answer = answer_rows(rows, self.reference, place, name, Asked(**asked))
        found = answer.range
        if found is None or found.low is None or found.high is None or found.typical is None:
            return None
        if answer.unverified:
            self._say(name, "unverified", f"{name.replace('_', ' ')} rests on memory only")
        self._cite(name, answer.citations)
        return Triple(max(found.low, 0.0), max(found.typical, 0.0), max(found.high, 0.0))

    def _densities(self) -> None:
        found = self.found
        loose = self._loose()
        if loose is not None:
            found.triples["loose_bulk_density"] = loose
        grain = self._triple("particle_density", form="grain")
        true = self._triple("true_density", form="solid")
        if found.is_powder:
            dense = true or grain or self._lent("true_density", form="solid")
            if dense is not None:
                found.triples["true_density"] = dense
            return
        grain = grain or self._body_density()
        if grain is None and found.kind == "fibre":
            grain = true
        if grain is not None:
            found.triples["particle_density"] = grain
        found.triples["true_density"] = true or self._true_density()
        if grain is None and loose is None:
            self._dense_grain()

    def _dense_grain(self) -> None:
        """Take a grain that is dense by kind as its pore-free solid less a few pores."""
        assumed = {"solid_density_assumed"} & {
            note.code for note in self.found.notes.get("true_density", ())
        }
        if self.wanted.material in NEARLY_PORE_FREE and not assumed:
            self.found.triples[GRAIN_POROSITY] = take.DENSE_GRAIN_PORES
            words = grain_words(self.wanted.material)
            self._say(GRAIN_POROSITY, "grain_taken_nearly_pore_free", words)

    def _loose(self) -> Triple | None:
        """Give the loose density as filled; one not held is scaled from the poured one."""
        fill = self.wanted.fill
        found = self._triple("loose_bulk_density", form="heap", fill=fill)
        if found is None and fill != "poured":
            poured = self._triple("loose_bulk_density", form="heap", fill="poured")
            if poured is not None:
                by = take.FILLED[fill]
                self._say(
                    "loose_bulk_density",
                    "fill_scaled",
                    f"loose density {fill} not held; the poured one times {by.low:g} to"
                    f" {by.high:g} taken (our judgement)",
                )
                return poured.scaled(by)
        if found is None and self.found.is_powder:
            return self._lent("loose_bulk_density", form="heap", fill="poured")
        return found

    def _lent(self, name: str, **asked: Any) -> Triple | None:
        """Take a powder's density from its mineral or from another grade of its family."""
        lenders = [self.solid] if self.solid and name == "true_density" else []
        for lender in (*lenders, *sorted(self.reference.grades(self.wanted.material))):
            found = self._triple(name, lender, **asked)
            if found is not None:
                other = self.reference.materials[lender]["name"].lower()
                self._say(name, "lent", f"{name.replace('_', ' ')} taken from {other}")
                return found
        return None

    def _body_density(self) -> Triple | None:
        """Take the density of the whole body a crushed aggregate is or comes from."""
        body = self.wanted.material if self.found.kind == "body" else self.solid
        if body is None or self.reference.materials[body]["kind"] != "body":
            return None
        density = self._triple("bulk_density", body, form="body")
        if density is not None:
            self._say(
                "particle_density",
                "grain_like_body",
                "grain density taken from the body it is crushed from",
            )
        return density

    def _true_density(self) -> Triple:
        solid = self.solid
        if solid is not None and self.reference.materials[solid]["kind"] != "body":
            density = self._triple("true_density", solid, form="solid")
            if density is not None:
                name = self.reference.materials[solid]["name"].lower()
                self._say("true_density", "solid_taken", f"pore-free density taken from {name}")
                return density
        taken = take.ORGANIC_DENSITY if self.found.leaves else take.SILICATE_DENSITY
        self._say(
            "true_density",
            "solid_density_assumed",
            f"pore-free density not held; {taken.low:.0f} to {taken.high:.0f} kg/m3 taken",
        )
        return taken

    def _water(self) -> None:
        found = self.found
        ignition = self._triple("loss_on_ignition")
        if found.leaves:
            found.triples["loss_on_ignition"] = Triple.exactly(1.0)
            self._say("loss_on_ignition", "leaves", "burns out or melts away by design on firing")
        elif ignition is not None:
            found.triples["loss_on_ignition"] = ignition
        elif found.is_powder and found.binder != "hydraulic":
            self._say(
                "loss_on_ignition", "ignition_loss_none", "loss on ignition not held; none taken"
            )
        bound = self._bound_water()
        if bound is not None:
            found.triples["bound_water"] = bound
        absorbed = self._triple("water_absorption") if not found.is_powder else None
        if absorbed is not None:
            found.triples["water_absorption"] = absorbed

    def _bound_water(self) -> Triple | None:
        held = self._triple("bound_water")
        if held is not None or self.found.binder != "hydraulic":
            return held
        if not self.wanted.material.startswith(_CAC):
            self._say(
                "bound_water", "bound_water_assumed", "bound water taken as 0.12 to 0.24 kg/kg"
            )
            return take.PORTLAND_WATER
        alumina = self._triple("oxide_Al2O3")
        if alumina is None:
            self._say(
                "bound_water", "bound_water_none", "alumina content not held; no bound water taken"
            )
            return None
        self._say(
            "bound_water",
            "bound_water_from_alumina",
            "bound water from its alumina: 4 water to 1 alumina in C3AH6 + 2 AH3, of which 40 to"
            " 95 % has formed",
        )
        each = _WATER_OF_ALUMINA * alumina.typical
        return take.REACTED_ALUMINA.scaled(each)

    def _sizes(self) -> None:
        pores = self._triple("pore_size")
        if pores is not None and pores.low > 0 and not self.found.is_powder:
            self.found.triples["pore_size"] = pores
        crush = self._triple("crush_factor")
        if crush is not None and crush.low > 0:
            top = min(crush.high, 1.0)
            self.found.triples["crush_factor"] = Triple(
                min(crush.low, top), min(crush.typical, top), top
            )

    def _oxides(self) -> None:
        """Note the oxides held, mass fractions, for how much could melt; no range is drawn."""
        for name in self.reference.properties:
            if name.startswith("oxide_") and (rows := self._of(self.wanted.material, name)):
                answer = answer_rows(rows, self.reference, self.wanted.material, name, Asked())
                if answer.range is not None and answer.range.typical is not None:
                    self.found.oxides[name.removeprefix("oxide_")] = answer.range.typical

    def _curve(self, quantity: str, material: str, name: str, form: str) -> FloatArray | None:
        """Give low, typical and high over the temperatures, ends held where evidence stops."""
        asked = Asked(form=form, at=self.wanted.at, extrapolate=True)
        answer = answer_rows(self._of(material, name), self.reference, material, name, asked)
        if answer.points is None or any(point.range is None for point in answer.points):
            return None
        self._cite(quantity, answer.citations)
        if any(point.extrapolated for point in answer.points):
            self._say(
                quantity,
                "held_flat",
                f"{name.replace('_', ' ')} held flat beyond the temperatures of its evidence",
            )
        return np.array(
            [
                (point.range.low, point.range.typical, point.range.high)
                for point in answer.points
                if point.range is not None
            ],
            dtype=np.float64,
        )

    def _conductivity(self) -> None:
        """Find the conductivity of the pore-free skeleton, or of the whole body it comes from."""
        name = "thermal_conductivity"
        if self.found.kind == "binder":
            return  # a hardened paste is a calibrated prior, not the dense mineral
        for material in (self.wanted.material, self.solid):
            if material is None:
                continue
            is_body = self.reference.materials[material]["kind"] == "body"
            curve = self._curve(name, material, name, "body" if is_body else "solid")
            if curve is not None:
                self.found.curves[name] = curve
                self.found.conductivity_is_grain = is_body
                if material != self.wanted.material:
                    other = self.reference.materials[material]["name"].lower()
                    self._say(name, "skeleton_taken", f"skeleton conductivity taken from {other}")
                return
        if not self.found.is_powder:
            solid = take.ORGANIC_CONDUCTIVITY if self.found.leaves else take.SILICATE_CONDUCTIVITY
            self._say(
                name,
                "skeleton_assumed",
                f"skeleton conductivity not held; {solid.low} to {solid.high} W/(m.K) taken",
            )
            ends = [solid.low, solid.typical, solid.high]
            self.found.curves[name] = np.tile(ends, (len(self.wanted.at), 1))

    def _heat_capacity(self) -> None:
        """Take a heat capacity by mass from any form: its pores do not matter."""
        name = "specific_heat_capacity"
        places = [(self.wanted.material, form) for form in ("solid", "grain", "heap", "body")]
        if self.solid is not None:
            places += [(self.solid, form) for form in ("solid", "body")]
        for material, form in places:
            curve = self._curve(name, material, name, form)
            if curve is not None:
                self.found.curves[name] = curve
                if material != self.wanted.material:
                    other = self.reference.materials[material]["name"].lower()
                    self._say(
                        name, "heat_capacity_taken", f"specific heat capacity taken from {other}"
                    )
                return

    def _expansion(self) -> None:
        """Find the mean coefficient of expansion from room temperature, 1/K."""
        name = "mean_expansion_coefficient"
        for material in (self.wanted.material, self.solid):
            for form in ("solid", "grain", "body") if material is not None else ():
                curve = self._curve(name, str(material), name, form)
                if curve is not None:
                    self.found.curves[name] = curve
                    if material != self.wanted.material:
                        other = self.reference.materials[str(material)]["name"].lower()
                        self._say(name, "expansion_taken", f"expansion taken from {other}")
                    return
