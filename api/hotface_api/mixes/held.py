"""What is held of one material for a mix, ready to be drawn: densities, waters, curves.

Preparing a material takes longer than estimating a mix, and depends only on the material, the way
it is filled and the temperatures. It is done once a revision and kept.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.evidence import material_rows
from hotface_api.catalogue.kept import Kept
from hotface_api.catalogue.reference import Reference
from hotface_api.mixes.desk import LEAVING, POWDERS, Desk, Held, Wanted

__all__ = ["Held", "Wanted", "forget", "prepare"]

Row = Mapping[str, Any]
NEEDED: Final = (
    "loose_bulk_density",
    "particle_density",
    "true_density",
    "bulk_density",
    "thermal_conductivity",
    "specific_heat_capacity",
    "loss_on_ignition",
    "water_absorption",
    "bound_water",
    "pore_size",
    "crush_factor",
    "mean_expansion_coefficient",
    "thermal_strain",
)
_KEPT: Kept[Held] = Kept(4096)
_ROWS: Kept[dict[str, list[Row]]] = Kept(1024)


def forget() -> None:
    """Forget everything prepared: for tests and for measuring how long preparing takes."""
    _KEPT.clear()
    _ROWS.clear()


def prepare(
    connection: Connection, reference: Reference, wanted: Collection[Wanted]
) -> dict[Wanted, Held]:
    """Prepare materials, with one statement for all that are not kept yet.

    Every material must be a key of ``reference.materials``.
    """
    home = (reference.database_id, reference.revision)
    found: dict[Wanted, Held] = {}
    missing: list[Wanted] = []
    for each in wanted:
        kept = _KEPT.get((home, each))
        if kept is None:
            missing.append(each)
        else:
            found[each] = kept
    if missing:
        rows = _rows_of(connection, reference, {each.material for each in missing}, home)
        for each in missing:
            found[each] = _KEPT.put((home, each), Desk(reference, rows, each).held())
    return found


def _with_relations(reference: Reference, materials: Collection[str]) -> set[str]:
    """Add what a material may lend from: its solid, and for powders its grades."""
    names = set(materials)
    for material in materials:
        row = reference.materials[material]
        names |= {row["solid"]} if row["solid"] else set()
        if row["kind"] in POWDERS:
            names |= set(reference.grades(material))
    return names


def _rows_of(
    connection: Connection, reference: Reference, materials: Collection[str], home: tuple[str, int]
) -> dict[str, list[Row]]:
    """Give the rows of some materials and their relations, from the store or as kept."""
    every: dict[str, list[Row]] = {}
    missing = set()
    for name in _with_relations(reference, materials):
        kept = _ROWS.get((home, name))
        if kept is None:
            missing.add(name)
        else:
            every[name] = kept[name]
    if missing:
        oxides = [name for name in reference.properties if name.startswith("oxide_")]
        read: dict[str, list[Row]] = {name: [] for name in missing}
        for row in material_rows(connection, reference, missing, (*NEEDED, *LEAVING, *oxides)):
            read[row["material"]].append(row)
        for name, rows in read.items():
            _ROWS.put((home, name), {name: rows})
        every |= read
    return every
