"""The mixing card: one cast in the order of work, with what is published on each step.

What stands under a step is a statement of practice with its source, chosen by id for calcium
aluminate cement, the binder most of them are held for; for other binders only what names them is
shown and the rest is said to be missing. Cautions go with the step they bear on.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matching_cautions
from hotface_api.catalogue.reference import Reference
from hotface_api.http.shapes import caution
from hotface_api.store import read
from hotface_api.store.models import Practice

__all__ = ["PRACTICE", "STEPS", "CardStep", "card_steps"]

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Work:
    """One step of the work: what to do, in our words, and which cautions bear on it."""

    key: str
    title: str
    does: str
    triggers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CardStep:
    """A step with the practice and the cautions that go with it."""

    work: Work
    practice: tuple[Row, ...]
    cautions: tuple[Mapping[str, Any], ...]
    is_missing: bool


STEPS: Final = (
    Work(
        "before",
        "Before you start",
        "Read what can hurt. Lay out mould, release, spare mould for a test cube, gloves, eye"
        " protection, mask, clean cold water. Write down lot, date and air temperature.",
        ("design", "siting", "storage"),
    ),
    Work(
        "weigh",
        "Weigh",
        "Weigh or measure every part before any of it gets wet. Fill every bucket the same way."
        " Weigh one bucket of each light part and write it down: no figure is worth more.",
        ("weighing-and-mixing",),
    ),
    Work(
        "dry-mix",
        "Mix dry",
        "Bring binder, fines and fibre together until the colour is even, then fold in the light"
        " grains last and briefly.",
        (),
    ),
    Work(
        "water",
        "Add water slowly",
        "Hold some of the water back. Add it in small pours and stop as soon as a handful holds"
        " together when tossed and caught. Every litre too much leaves a litre of pores and steam."
        " Write down what you used.",
        (),
    ),
    Work(
        "place",
        "Place",
        "Fill the mould in one go, before it stiffens; tamp or tap, do not flow. Never add water to"
        " bring a stiff mix back. Fill the spare mould from the same batch and weigh it full.",
        ("casting",),
    ),
    Work(
        "cure",
        "Cure",
        "Cover at once and keep damp, out of sun, wind and frost. It warms by itself; that is the"
        " cement at work.",
        ("curing",),
    ),
    Work(
        "demould",
        "Demould by test, not by the clock",
        "Test the spare cube: a thumbnail leaves no mark, and it rings when knocked. Then take the"
        " part out, supported along its length. Set time changes with lot, water and weather.",
        ("lifting",),
    ),
    Work(
        "dry",
        "Dry",
        "Let it stand open on both faces. Weigh it every day: while it still loses mass it is not"
        " dry.",
        ("drying", "cutting"),
    ),
    Work(
        "first-fire",
        "First fire",
        "Fire the test cube first. Measure in the wall, not in the flue. While steam is seen, hold."
        " Keep people away from it. What follows is what others print: typical practice, not a"
        " guarantee, and no schedule fits every thickness, mix and weather.",
        ("first-fire",),
    ),
    Work(
        "after",
        "After it",
        "Look for cracks, loose pieces and marks of melting, and write down what you see. Submit"
        " what you measured: density, conductivity, what failed and where.",
        ("firing", "demolition"),
    ),
)

PRACTICE: Final[Mapping[str, tuple[str, ...]]] = {
    "weigh": ("incompatible-combinations-3", "incompatible-combinations-8"),
    "dry-mix": ("mixing-crushes-light-aggregate", "polypropylene-fibre-2", "polypropylene-fibre-4"),
    "water": ("water-demand-1", "alkali-fluxes-3"),
    "cure": (
        "curing-1",
        "curing-5",
        "curing-7",
        "curing-8",
        "curing-15",
        "hydration-heat-5",
    ),
    "demould": ("demoulding-1", "demoulding-2", "conversion-of-hydrates-5"),
    "dry": ("curing-9", "dehydration-1", "dehydration-2"),
    "first-fire": (
        "drying-and-first-heat-up-4",
        "drying-and-first-heat-up-5",
        "drying-and-first-heat-up-6",
        "drying-and-first-heat-up-7",
        "drying-and-first-heat-up-8",
        "drying-and-first-heat-up-9",
        "drying-and-first-heat-up-1",
        "drying-and-first-heat-up-10",
    ),
}
"""Statements of practice by step, for casts bound with calcium aluminate cement."""

_CAC: Final = "calcium-aluminate-cement"


def card_steps(
    connection: Connection, reference: Reference, materials: Collection[str]
) -> Sequence[CardStep]:
    """Give the steps of a cast of some materials, in the order of work."""
    is_cac = any(reference.family_of(key) == _CAC for key in materials)
    held = {row["id"]: row for row in read.held(connection, Practice, reference.revision)}
    cautions = matching_cautions(reference, materials, general=True)
    made = []
    for work in STEPS:
        named = PRACTICE.get(work.key, ())
        practice = tuple(held[key] for key in named if key in held) if is_cac else ()
        bearing = tuple(caution(row) for row in cautions if row["trigger"] in work.triggers)
        made.append(CardStep(work, practice, bearing, is_missing=bool(named) and not practice))
    return made
