"""What is known of each constituent, gathered from the catalogue, with what had to be assumed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.properties import Asked, PropertyAnswer, answer_rows
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes import assumptions as take
from hotface_api.mixes.assumptions import Assumption
from hotface_api.mixes.request import Constituent, EstimateRequest, MixError, Triple

__all__ = ["Part", "gather"]

Row = Mapping[str, Any]
FloatArray = NDArray[np.float64]

NEEDED: Final = (
    "loose_bulk_density", "particle_density", "true_density", "bulk_density",
    "thermal_conductivity", "specific_heat_capacity", "loss_on_ignition", "water_absorption",
    "bound_water", "oxide_Al2O3",
)
_POWDERS: Final = ("binder", "filler", "admixture", "mineral", "fibre")
_LEAVING: Final = ("melting_temperature", "decomposition_temperature", "transformation_temperature")
_HYDRAULIC: Final = ("cac-", "calcium-aluminate", "portland", "slag-cement")
_CAC: Final = ("cac-", "calcium-aluminate")


@dataclass(slots=True)
class Part:
    """One constituent with its inputs. Curves are (low, typical, high) over the temperatures."""

    constituent: Constituent
    kind: str
    name: str
    is_powder: bool
    is_hydraulic: bool
    triples: dict[str, Triple] = field(default_factory=dict)
    conductivity: FloatArray | None = None
    conductivity_is_grain: bool = False
    heat_capacity: FloatArray | None = None
    leaves: bool = False


@dataclass(slots=True)
class Gathered:
    """All parts, what was assumed, and the sources the figures come from."""

    parts: list[Part]
    assumptions: list[Assumption]
    citations: set[str]

    def assume(self, code: str, text: str) -> None:
        """Note an assumption once."""
        if all(held.code != code or held.text != text for held in self.assumptions):
            self.assumptions.append(Assumption(code, text))


def gather(
    connection: Connection, reference: Reference, request: EstimateRequest
) -> Gathered:
    """Read every input with one statement and settle what is used for each part.

    Raises
    ------
    MixError
        If a material is unknown, or a density it needs is neither held nor given.
    """
    names = _names(reference, request)
    rows: dict[tuple[str, str], list[Row]] = {}
    for row in material_rows(connection, reference, names, (*NEEDED, *_LEAVING)):
        rows.setdefault((row["material"], row["property"]), []).append(row)
    found = Gathered([], [], set())
    at = np.array(request.temperatures())
    for index, constituent in enumerate(request.mix.constituents):
        place = f"#/mix/constituents/{index}"
        desk = _Desk(reference, rows, found, constituent, place, at, request.mix.parts_by)
        found.parts.append(desk.part())
    return found


def _names(reference: Reference, request: EstimateRequest) -> set[str]:
    names: set[str] = set()
    for index, part in enumerate(request.mix.constituents):
        if part.material not in reference.materials:
            near = tuple(get_close_matches(part.material, list(reference.materials), 3))
            pointer = f"#/mix/constituents/{index}/material"
            raise MixError(pointer, f"the material {part.material!r} is not known", near)
        names.add(part.material)
        solid = reference.materials[part.material]["solid"]
        names |= {solid} if solid else set()
    return names


@dataclass(slots=True)
class _Desk:
    """Settles the inputs of one constituent."""

    reference: Reference
    rows: Mapping[tuple[str, str], Sequence[Row]]
    found: Gathered
    constituent: Constituent
    pointer: str
    at: FloatArray
    parts_by: str | None

    def part(self) -> Part:
        material = self.reference.materials[self.constituent.material]
        identity = self.constituent.material
        part = Part(
            self.constituent, material["kind"], material["name"],
            is_powder=material["kind"] in _POWDERS,
            is_hydraulic=identity.startswith(_HYDRAULIC),
            leaves=material["kind"] == "pore-former" or self._leaves(),
        )
        self._densities(part)
        self._water(part)
        self._conductivity(part)
        self._heat_capacity(part)
        return part

    def _leaves(self) -> bool:
        """Tell whether the material is meant to leave on heating."""
        return any(
            row["event_kind"] == "leaves-by-design"
            for name in _LEAVING
            for row in self.rows.get((self.constituent.material, name), ())
        )

    def _ask(self, material: str, name: str, **asked: Any) -> PropertyAnswer:
        rows = self.rows.get((material, name), ())
        return answer_rows(rows, self.reference, material, name, Asked(**asked))

    def _held(self, name: str, material: str | None = None, **asked: Any) -> Triple | None:
        """Give the caller's own figure, else the held interval, else None."""
        own = self.constituent.properties.get(name)
        if own is not None and material is None:
            return own
        answer = self._ask(material or self.constituent.material, name, **asked)
        found = answer.range
        if found is None or found.low is None or found.high is None or found.typical is None:
            return None
        if answer.unverified:
            self._say("unverified", f"{name.replace('_', ' ')} rests on memory only")
        self.found.citations.update(answer.citations)
        return Triple(max(found.low, 0.0), max(found.typical, 0.0), max(found.high, 0.0))

    def _say(self, code: str, text: str) -> None:
        name = self.reference.materials[self.constituent.material]["name"]
        self.found.assume(code, f"{name}: {text}.")

    @property
    def _solid(self) -> str | None:
        solid: str | None = self.reference.materials[self.constituent.material]["solid"]
        return solid

    def _densities(self, part: Part) -> None:
        loose = self._held("loose_bulk_density", form="heap")
        grain = self._held("particle_density", form="grain")
        true = self._held("true_density", form="solid")
        body = self._body_density(part)
        grain = grain or body
        if part.is_powder:
            grain = true or grain
            true = true or grain
        elif true is None:
            true = self._true_density()
        if loose is None and self._is_loose(part.constituent):
            self._missing("loose_bulk_density", "to turn a loose volume into mass")
        if grain is None and loose is None:
            self._missing("particle_density", "to turn mass into volume")
        if part.is_powder and grain is None:
            self._missing("true_density", "to turn mass into volume")
        for name, triple in (
            ("loose_bulk_density", loose), ("particle_density", grain), ("true_density", true)
        ):
            if triple is not None:
                part.triples[name] = triple

    def _is_loose(self, constituent: Constituent) -> bool:
        if constituent.amount_kind == "parts":
            return self.parts_by == "loose"
        return constituent.amount_kind == "volume" and constituent.measured_as == "loose"

    def _missing(self, name: str, why: str) -> None:
        plain = name.replace("_", " ")
        raise MixError(
            f"{self.pointer}/properties/{name}",
            f"no {plain} of {self.constituent.material} is held, and it is needed {why};"
            f" give your own under properties",
        )

    def _body_density(self, part: Part) -> Triple | None:
        """Take the density of the whole body a crushed aggregate comes from."""
        solid = self._solid
        if part.is_powder or solid is None:
            return None
        if self.reference.materials[solid]["kind"] != "body":
            return None
        density = self._held("bulk_density", solid, form="body")
        if density is not None:
            self._say("grain_like_body", "grain density taken from the body it is crushed from")
        return density

    def _true_density(self) -> Triple:
        solid = self._solid
        if solid is not None and self.reference.materials[solid]["kind"] != "body":
            density = self._held("true_density", solid, form="solid")
            if density is not None:
                name = self.reference.materials[solid]["name"].lower()
                self._say("solid_taken", f"pore-free density taken from {name}")
                return density
        self._say("solid_density_assumed", "pore-free density not held; 2250 to 2850 kg/m3 taken")
        return take.SILICATE_DENSITY

    def _water(self, part: Part) -> None:
        ignition = self._held("loss_on_ignition")
        if part.leaves:
            part.triples["loss_on_ignition"] = Triple.exactly(1.0)
        elif ignition is not None:
            part.triples["loss_on_ignition"] = ignition
        elif part.is_powder and not part.is_hydraulic:
            self._say("ignition_loss_none", "loss on ignition not held; none taken")
        bound = self._bound_water(part)
        if bound is not None:
            part.triples["bound_water"] = bound

    def _bound_water(self, part: Part) -> Triple | None:
        held = self._held("bound_water")
        if held is not None or not part.is_hydraulic:
            return held
        if not self.constituent.material.startswith(_CAC):
            self._say("bound_water_assumed", "bound water taken as 0.12 to 0.24 kg/kg")
            return take.PORTLAND_WATER
        alumina = self._held("oxide_Al2O3")
        if alumina is None:
            self._say("bound_water_none", "alumina content not held; no bound water taken")
            return None
        self._say(
            "bound_water_from_alumina",
            "bound water from its alumina: 4 water to 1 alumina in C3AH6 + 2 AH3, of which 40 to"
            " 95 % has formed",
        )
        each = 4 * 18.015 / 101.961
        share = take.REACTED_ALUMINA
        return Triple(
            each * share.low * alumina.typical, each * share.typical * alumina.typical,
            each * share.high * alumina.typical,
        )

    def _curve(self, material: str, name: str, form: str) -> FloatArray | None:
        """Give low, typical and high over the temperatures, ends held where evidence stops."""
        answer = self._ask(material, name, form=form, at=tuple(self.at), extrapolate=True)
        if answer.points is None or any(point.range is None for point in answer.points):
            return None
        self.found.citations.update(answer.citations)
        if any(point.extrapolated for point in answer.points):
            plain = name.replace("_", " ")
            self._say("held_flat", f"{plain} held flat beyond the temperatures of its evidence")
        triples = [
            (point.range.low, point.range.typical, point.range.high)
            for point in answer.points
            if point.range is not None
        ]
        return np.array(triples, dtype=np.float64)

    def _conductivity(self, part: Part) -> None:
        own = self.constituent.properties.get("thermal_conductivity")
        if own is not None:
            part.conductivity = self._flat(own)
            part.conductivity_is_grain = True
            return
        if part.kind == "binder":
            return  # the paste skeleton is a prior, not the dense mineral
        for material in (self.constituent.material, self._solid):
            if material is None:
                continue
            is_body = self.reference.materials[material]["kind"] == "body"
            form = "body" if is_body else "solid"
            curve = self._curve(material, "thermal_conductivity", form)
            if curve is not None:
                part.conductivity, part.conductivity_is_grain = curve, is_body
                if material != self.constituent.material:
                    name = self.reference.materials[material]["name"].lower()
                    self._say("skeleton_taken", f"skeleton conductivity taken from {name}")
                return
        self._say(
            "skeleton_assumed", "skeleton conductivity not held; 0.8 to 2.2 W/(m.K) taken"
        )
        part.conductivity = self._flat(take.SILICATE_CONDUCTIVITY)

    def _flat(self, triple: Triple) -> FloatArray:
        return np.tile([triple.low, triple.typical, triple.high], (len(self.at), 1))

    def _heat_capacity(self, part: Part) -> None:
        own = self.constituent.properties.get("specific_heat_capacity")
        if own is not None:
            part.heat_capacity = self._flat(own)
            return
        for material, form in self._heat_sources():
            curve = self._curve(material, "specific_heat_capacity", form)
            if curve is not None:
                part.heat_capacity = curve
                if material != self.constituent.material:
                    name = self.reference.materials[material]["name"].lower()
                    self._say("heat_capacity_taken", f"specific heat capacity taken from {name}")
                return

    def _heat_sources(self) -> list[tuple[str, str]]:
        """Where a heat capacity by mass may come from: the porosity of a form does not matter."""
        places = [
            (self.constituent.material, form) for form in ("solid", "grain", "heap", "body")
        ]
        if self._solid is not None:
            places += [(self._solid, form) for form in ("solid", "body")]
        return places
