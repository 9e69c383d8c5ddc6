"""The mixing card: one cast in the order of work, on one sheet of paper.

Under a step stands what to do, in our words; what can hurt there; and what is published on it. Each
statement carries the number of its source, and the sources stand numbered at the foot. Statements
of practice are chosen by id for calcium aluminate cement, the binder most of them are held for; for
other binders the card says that none is held.

Of the cautions a card has those that name a material of the mix, and the general ones chosen
below. The page of the estimate has them all; the card says so.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from sqlalchemy import Connection

from hotface_api.catalogue.cautions import matched_cautions
from hotface_api.catalogue.reference import Reference
from hotface_api.site import words
from hotface_api.store import read
from hotface_api.store.models import Practice

__all__ = ["PRACTICE", "STEPS", "Card", "CardStep", "Note", "made"]

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Work:
    """One step of the work.

    ``triggers`` say which cautions that name a material stand here, ``cautions`` which general
    ones do, by id.
    """

    key: str
    title: str
    does: str
    triggers: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """A source at the foot of the card, by its number, and the places in it that were read."""

    number: int
    source: str
    locators: list[str]


@dataclass(frozen=True, slots=True)
class Said:
    """A statement with the numbers of its sources; none where it rests on memory."""

    text: str
    notes: tuple[int, ...]
    hazard: str = ""


@dataclass(frozen=True, slots=True)
class CardStep:
    """A step with its cautions and the practice that goes with it."""

    work: Work
    cautions: tuple[Said, ...]
    practice: tuple[Said, ...]
    is_missing: bool


@dataclass(frozen=True, slots=True)
class Card:
    """The steps of a cast and the sources they name; ``left`` counts cautions not on the card."""

    steps: tuple[CardStep, ...]
    notes: tuple[Note, ...]
    left: int


STEPS: Final = (
    Work(
        "weigh",
        "Weigh and measure",
        "Gloves, goggles and mask on before a bag is opened. Measure every part before any of it"
        " gets wet, every bucket filled the same way. Weigh one bucket of each light part and write"
        " it down.",
        ("storage", "weighing-and-mixing"),
    ),
    Work(
        "dry-mix",
        "Mix dry",
        "Binder, fines and fibre first, until the colour is even; the light grains last and"
        " briefly.",
    ),
    Work(
        "water",
        "Add water slowly",
        "Clean and cold. Hold a third back, then pour in a little at a time; stop when a handful"
        " tossed and caught holds together. Write down what went in.",
    ),
    Work(
        "place",
        "Place",
        "Fill the mould in one go before the mix stiffens; tamp or tap, do not pour. Never bring a"
        " stiff mix back with water. Fill a test cube from the same batch; weigh it full.",
        ("casting",),
    ),
    Work(
        "cure",
        "Cure",
        "Cover at once, keep damp, out of sun, wind and frost. It warms by itself.",
        ("curing",),
    ),
    Work(
        "demould",
        "Demould by hardness, not by the clock",
        "Try the cube: a thumbnail leaves no mark and it rings when knocked. Only then strip the"
        " part, held along its whole length. Lot, water and weather change the time.",
        ("lifting",),
        ("heavy-lift",),
    ),
    Work(
        "dry",
        "Dry",
        "Stand it open on both faces. Weigh it daily: while it loses mass it is not dry.",
        ("drying",),
        ("sealed-face-steam",),
    ),
    Work(
        "build-in",
        "Build it in",
        "Clear of everything that burns, on a frame that carries it; a cast of one’s own is no"
        " listed flue.",
        ("siting", "design"),
        ("clearance-combustibles", "cast-flue-no-listing"),
    ),
    Work(
        "first-fire",
        "First heating",
        "The cube first. Measure in the wall, not in the flue. While steam is seen, hold. Below is"
        " what others print: typical practice, not a guarantee.",
        ("first-fire",),
        ("steam-spalling-first-heat", "schedule-no-guarantee", "sealed-voids-burst"),
    ),
    Work(
        "fire",
        "Before every fire",
        "Look for cracks, loose pieces and signs of melting, and write down what you see.",
        ("firing",),
        ("carbon-monoxide-niosh", "carbon-monoxide-osha", "hot-outer-face", "cracked-lid-falls"),
    ),
)

PRACTICE: Final[Mapping[str, tuple[str, ...]]] = {
    "weigh": ("incompatible-combinations-3",),
    "dry-mix": ("mixing-crushes-light-aggregate",),
    "water": ("water-demand-1", "alkali-fluxes-3"),
    "cure": ("curing-5", "curing-8"),
    "demould": ("demoulding-1", "demoulding-2", "conversion-of-hydrates-5"),
    "dry": ("curing-9",),
    "first-fire": (
        "drying-and-first-heat-up-1",
        "drying-and-first-heat-up-4",
        "drying-and-first-heat-up-5",
        "drying-and-first-heat-up-6",
        "drying-and-first-heat-up-7",
        "drying-and-first-heat-up-8",
        "drying-and-first-heat-up-10",
    ),
}
"""Statements of practice by step, for casts bound with calcium aluminate cement."""
_FIBRE_PRACTICE: Final = ("polypropylene-fibre-2", "polypropylene-fibre-4")
"""Said of the dry mix where the mix has polymer fibre."""
_OTHER_VIEWS: Final = ("drying-and-first-heat-up-1", "drying-and-first-heat-up-10")
"""Said beside a printed sheet: where bursting is likeliest, and that another supplier differs."""
_FIBRES: Final = "polypropylene-fibre"
_CAC: Final = "calcium-aluminate-cement"
_READ: Final = {"basis": "read"}


@dataclass(slots=True)
class _Foot:
    """Numbers the sources in the order they are first named."""

    notes: list[Note] = field(default_factory=list)

    def number(self, row: Row) -> tuple[int, ...]:
        if row["basis"] == "memory" or not row["source"]:
            return ()
        note = next((each for each in self.notes if each.source == row["source"]), None)
        if note is None:
            note = Note(len(self.notes) + 1, row["source"], [])
            self.notes.append(note)
        if row["locator"] and row["locator"] not in note.locators:
            note.locators.append(row["locator"])
        return (note.number,)


def _cautions(
    work: Work, rows: Sequence[tuple[Row, bool]], foot: _Foot
) -> tuple[tuple[Said, ...], set[str]]:
    """Choose the cautions of a step; those that give the same advice are said once."""
    said: dict[tuple[str, str], Said] = {}
    shown = set()
    first = {name: place for place, name in enumerate(work.cautions)}
    for row, names_a_part in sorted(rows, key=lambda each: first.get(each[0]["id"], len(first))):
        if row["id"] not in work.cautions and not (
            names_a_part and row["trigger"] in work.triggers
        ):
            continue
        shown.add(row["id"])
        same = (row["hazard"], row["advice"])
        before = said[same].notes if same in said else ()
        said[same] = Said(row["advice"], (*before, *foot.number(row)), row["hazard"])
    return tuple(said.values()), shown


def _practice(work: Work, held: Mapping[str, Row], is_fibrous: bool, foot: _Foot) -> list[Said]:
    names = PRACTICE.get(work.key, ())
    if work.key == "dry-mix" and is_fibrous:
        names += _FIBRE_PRACTICE
    return [
        Said(held[name]["statement"], foot.number(held[name])) for name in names if name in held
    ]


def made(
    connection: Connection,
    reference: Reference,
    materials: Collection[str],
    drying: Mapping[str, Any] | None = None,
) -> Card:
    """Make the card of a cast of some materials.

    Parameters
    ----------
    connection : Connection
    reference : Reference
    materials : collection of str
        Ids of the constituents.
    drying : mapping, optional
        How a piece of the thickness asked for is dried, as an estimate gives it; it stands in place
        of the general practice of the first heating.
    """
    is_cac = any(reference.family_of(key) == _CAC for key in materials)
    rows = read.held(connection, Practice, reference.revision) if is_cac else ()
    held = {row["id"]: row for row in rows}
    matched = [
        (each.caution, bool(each.caution["materials"] and set(each.because) & set(materials)))
        for each in matched_cautions(reference, materials, general=True)
    ]
    foot, steps, shown = _Foot(), [], set()
    for work in STEPS:
        cautions, ids = _cautions(work, matched, foot)
        shown |= ids
        if work.key == "first-fire" and drying is not None and drying["steps"]:
            practice = _dried(drying, foot)
        else:
            practice = _practice(work, held, _FIBRES in materials, foot)
        is_missing = work.key in PRACTICE and not practice
        steps.append(CardStep(work, cautions, tuple(practice), is_missing))
    return Card(tuple(steps), tuple(foot.notes), len(matched) - len(shown))


def _dried(drying: Mapping[str, Any], foot: _Foot) -> list[Said]:
    """Say the steps of a printed sheet for the thickness asked about, and what others print."""
    sheet = [Said(_step_text(step), foot.number({**_READ, **step})) for step in drying["steps"]]
    others = [
        Said(f"Others: {each['statement']}", foot.number({**_READ, **each}))
        for each in drying["others"]
        if each["practice"] in _OTHER_VIEWS
    ]
    return [*sheet, *others]


def _step_text(step: Mapping[str, Any]) -> str:
    """Write one step of drying: how far, how fast, how long."""
    parts = []
    if step["reaches"]:
        parts.append(f"{'at' if step['hold'] else 'to'} {words.span(step['reaches'])}")
    if step["ramp_at_most"]:
        parts.append(f"at most {words.quantity(step['ramp_at_most'])}")
    if step["hold"]:
        parts.append(f"{words.quantity(step['hold'])} or longer")
    elif step["takes_at_least"]:
        parts.append(f"so {words.quantity(step['takes_at_least'])} or longer")
    return f"{step['title']}: {', '.join(parts)}" if parts else str(step["title"])
