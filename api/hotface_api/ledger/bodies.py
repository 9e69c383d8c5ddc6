"""Materials and specimens proposed with a submission."""

from __future__ import annotations

import re
from typing import Any, Final

from hotface_api.catalogue.reference import Reference
from hotface_api.ledger.drafts import ConstituentDraft, MaterialDraft, SpecimenDraft
from hotface_api.ledger.errors import near
from hotface_api.ledger.identifiers import new_id, slug
from hotface_api.ledger.sources import Cited
from hotface_api.ledger.texts import LONG, SHORT, Faults
from hotface_api.store import vocabulary as words

__all__ = ["PARTS", "proposed_material", "proposed_specimen"]

Row = dict[str, Any]
PARTS: Final = ("binder", "aggregate", "filler", "fibre", "pore-former", "admixture")
_SLUG: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_WHOLE: Final = 100.0
_SLACK: Final = 1.0
_MOST_PARTS: Final = 40


def proposed_material(
    draft: MaterialDraft | None, reference: Reference, contributor: str, whole: Faults
) -> Row | None:
    """Check a proposed material; its row without dates, or None."""
    if draft is None:
        return None
    faults = Faults("/material")
    key = faults.text("/id", draft.id, needed=True)
    name = faults.text("/name", draft.name, needed=True)
    row = {
        "id": key,
        "name": name,
        "kind": faults.word("/kind", draft.kind, words.KINDS),
        "family": _known("/family", draft.family, reference.families, faults),
        "also_known_as": faults.text("/also_known_as", draft.also_known_as, longest=LONG),
        "description": faults.text("/description", draft.description, longest=LONG, needed=True),
        "solid": _known("/solid", draft.solid, reference.materials, faults),
        "contributor": contributor,
    }
    if draft.kind is None:
        faults.add("/kind", f"say what kind it is: {', '.join(words.KINDS)}", words.KINDS)
    if key is not None and not _SLUG.fullmatch(key):
        faults.add("/id", "an id is lower-case words joined by hyphens, like expanded-clay")
    names = {held["name"].lower(): held_id for held_id, held in reference.materials.items()}
    if key in reference.materials:
        faults.add("/id", "this material is held already; leave the proposal out", (str(key),))
    elif name is not None and name.lower() in names:
        faults.add("/name", "a material of this name is held", (names[name.lower()],))
    whole.found += faults.found
    return None if faults.found else row


def _known(place: str, key: Any, held: Any, faults: Faults) -> str | None:
    text = faults.text(place, key)
    if text is not None and text not in held:
        faults.add(place, f"{text[:60]!r} is not held", near(text, held))
    return text


def proposed_specimen(
    draft: SpecimenDraft | None,
    source: Cited | None,
    reference: Reference,
    new_materials: frozenset[str],
    contributor: str,
    whole: Faults,
) -> tuple[Row | None, list[Row]]:
    """Check a proposed specimen and its recipe; their rows without dates, or None."""
    if draft is None:
        return None, []
    faults = Faults("/specimen")
    name = faults.text("/name", draft.name, needed=True)
    held = (*reference.materials, *new_materials)
    key = f"{slug(name or '') or 'specimen'}-{new_id('', 6)}"
    row = {
        "id": key,
        "name": name,
        "material": _known("/material", draft.material, held, faults),
        "kind": faults.word("/kind", draft.kind, words.SPECIMEN_KINDS),
        "proportions": faults.text("/proportions", draft.proportions, longest=LONG),
        "water_binder_ratio": faults.number(
            "/water_binder_ratio", draft.water_binder_ratio, 0.0, 100.0
        ),
        "state": faults.word("/state", draft.state, words.STATES),
        "treatment_temperature": faults.number(
            "/treatment_temperature", draft.treatment_temperature, 0.0, 6000.0, " K"
        ),
        "age": faults.number("/age", draft.age, 0.0, 1e10, " s"),
        "moisture": faults.number("/moisture", draft.moisture, 0.0, 20.0),
        "method": faults.text("/method", draft.method, longest=SHORT),
        "note": faults.text("/note", draft.note, longest=LONG),
        "contributor": contributor,
        **_cited(draft, source, faults),
    }
    if row["material"] is None:
        faults.add("/material", "say which material (a body, as a rule) the specimen is of")
    recipe = _recipe(draft.constituents, key, held, contributor, faults)
    whole.found += faults.found
    return (None, []) if faults.found else (row, recipe)


def _cited(draft: SpecimenDraft, source: Cited | None, faults: Faults) -> Row:
    if source is None:
        faults.add("", "a specimen needs the submission's own source, not only those of its values")
    own = source is not None and source.own
    locator = faults.text("/locator", draft.locator, longest=LONG, needed=not own)
    return {
        "basis": "measured" if own else "read",
        "quoted_in": None,
        "recalled_source": None,
        "source": None if source is None else source.id,
        "origin": None if source is None else source.origin,
        "locator": locator or "own measurement",
    }


def _recipe(
    drafts: tuple[ConstituentDraft, ...],
    specimen: str,
    held: tuple[str, ...],
    contributor: str,
    faults: Faults,
) -> list[Row]:
    if len(drafts) > _MOST_PARTS:
        faults.add("/constituents", f"at most {_MOST_PARTS} constituents")
        return []
    rows: list[Row] = []
    for index, draft in enumerate(drafts):
        place = f"/constituents/{index}"
        rows.append(
            {
                "specimen": specimen,
                "position": index + 1,
                "contributor": contributor,
                "material": _known(f"{place}/material", draft.material, held, faults),
                "part": faults.word(f"{place}/part", draft.part, PARTS),
                "mass_percent": faults.number(
                    f"{place}/mass_percent", draft.mass_percent, 0, _WHOLE
                ),
                "volume_percent": faults.number(
                    f"{place}/volume_percent", draft.volume_percent, 0, _WHOLE
                ),
            }
        )
        if rows[-1]["material"] is None or rows[-1]["part"] is None:
            faults.add(place, "a constituent has a material and the part it plays")
    for share in ("mass_percent", "volume_percent"):
        total = sum(float(row[share] or 0) for row in rows)
        if total > _WHOLE + _SLACK:
            faults.add("/constituents", f"the shares by {share} come to {total:g} %")
    return rows
