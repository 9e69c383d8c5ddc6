"""The tables.

Every table an answer can depend on is *dated*: a row holds from ``from_revision`` until
``to_revision`` (null: still). Rows are never rewritten; what changes is closed and a new row
opened, so an answer given at revision N can be given again. The price is that an ``id`` may stand
in several rows, of which one is open (a partial unique index holds that), and that references
between dated tables are by ``id`` and checked by the loader and the ledger, not by foreign keys.

Numbers are coherent SI: kelvin, pascal, second, metre, kilogram, mass fraction. The figures as a
source prints them are kept beside them as text.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import (
    CheckConstraint,
    ForeignKey,
    Index,
    Text,
)
from sqlalchemy.orm import Mapped, mapped_column

from hotface_api.store import vocabulary as words
from hotface_api.store.base import Base, Cited, Contributed, Dated, cited_checks, one_of


class Setting(Base):
    """Facts about this database itself, such as its ``database_id``."""

    __tablename__ = "setting"
    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[str] = mapped_column(Text)


class Revision(Base):
    """One accepted change of what is served."""

    __tablename__ = "revision"
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    made_at: Mapped[datetime]
    kind: Mapped[str]
    summary: Mapped[str] = mapped_column(Text)
    package_version: Mapped[str | None]
    content_digest: Mapped[str | None]
    __table_args__ = (one_of("kind", ("seed", "contribution", "correction", "withdrawal")),)


class Family(Dated, Base):
    """A trade name that spans unlike grades."""

    __tablename__ = "family"
    name: Mapped[str]
    graded_by: Mapped[str] = mapped_column(Text)


class Material(Dated, Contributed, Base):
    """A generic class of material; no brands."""

    __tablename__ = "material"
    name: Mapped[str]
    kind: Mapped[str]
    family: Mapped[str | None]
    also_known_as: Mapped[str | None] = mapped_column(Text)
    description: Mapped[str] = mapped_column(Text)
    solid: Mapped[str | None]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain the kind."""
        return (one_of("kind", words.KINDS),)


class Property(Dated, Base):
    """A quantity, its definition, output units and the rules of its ranges."""

    __tablename__ = "property"
    name: Mapped[str]
    definition: Mapped[str] = mapped_column(Text)
    standard: Mapped[str | None]
    unit: Mapped[str]
    unit_us: Mapped[str]
    quantity_kind: Mapped[str | None]
    temperature_kind: Mapped[str | None]
    group: Mapped[str]
    forms: Mapped[str]
    canonical_form: Mapped[str | None]
    canonical_state: Mapped[str | None]
    scale: Mapped[str]
    spread_floor: Mapped[float | None]
    varies_with_temperature: Mapped[bool]
    minimum: Mapped[float | None]
    maximum: Mapped[float | None]
    need: Mapped[int]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain the word columns."""
        return (
            one_of("group", words.GROUPS),
            one_of("scale", words.SCALES),
            one_of("temperature_kind", ("point", "difference")),
        )


class Origin(Dated, Contributed, Base):
    """Who first measured or fixed a figure; sources that repeat it share it."""

    __tablename__ = "origin"
    title: Mapped[str] = mapped_column(Text)
    note: Mapped[str | None] = mapped_column(Text)


class Source(Dated, Contributed, Base):
    """A cited text as a CSL-JSON item, its type, and the origin its figures count under."""

    __tablename__ = "source"
    source_type: Mapped[str]
    origin: Mapped[str]
    seen: Mapped[str] = mapped_column(Text)
    item: Mapped[dict[str, Any]]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain the source type."""
        return (one_of("source_type", words.SOURCE_TYPES),)


class Specimen(Dated, Cited, Contributed, Base):
    """One measured body, or one published curve over temperature."""

    __tablename__ = "specimen"
    material: Mapped[str]
    kind: Mapped[str]
    name: Mapped[str] = mapped_column(Text)
    proportions: Mapped[str | None] = mapped_column(Text)
    water_binder_ratio: Mapped[float | None]
    state: Mapped[str | None]
    treatment_temperature: Mapped[float | None]
    age: Mapped[float | None]
    moisture: Mapped[float | None]
    method: Mapped[str | None]
    origin: Mapped[str | None]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain the word columns."""
        return (
            one_of("kind", words.SPECIMEN_KINDS),
            one_of("state", words.STATES),
            *cited_checks(),
        )


class SpecimenConstituent(Contributed, Base):
    """One line of a specimen's recipe; dated with its specimen."""

    __tablename__ = "specimen_constituent"
    row: Mapped[int] = mapped_column(primary_key=True)
    specimen: Mapped[str] = mapped_column(index=True)
    position: Mapped[int]
    material: Mapped[str]
    part: Mapped[str]
    mass_percent: Mapped[float | None]
    volume_percent: Mapped[float | None]
    from_revision: Mapped[int] = mapped_column(ForeignKey("revision.number"))
    to_revision: Mapped[int | None] = mapped_column(ForeignKey("revision.number"))


class Value(Dated, Cited, Base):
    """One published or contributed figure: the central row."""

    __tablename__ = "value"
    from_revision: Mapped[int | None] = mapped_column(  # type: ignore[assignment]
        ForeignKey("revision.number")
    )  # null while pending: no revision serves it yet
    material: Mapped[str]
    property: Mapped[str]
    low: Mapped[float | None]
    typical: Mapped[float | None]
    high: Mapped[float | None]
    bound: Mapped[str]
    role: Mapped[str | None]
    event_kind: Mapped[str | None]
    printed_low: Mapped[str | None]
    printed_typical: Mapped[str | None]
    printed_high: Mapped[str | None]
    printed_unit: Mapped[str]
    unit: Mapped[str]
    temperature_low: Mapped[float | None]
    temperature_high: Mapped[float | None]
    form: Mapped[str]
    state: Mapped[str | None]
    fill: Mapped[str | None]
    grain_size_low: Mapped[float | None]
    grain_size_high: Mapped[float | None]
    treatment_temperature: Mapped[float | None]
    reference_temperature: Mapped[float | None]
    duration: Mapped[float | None]
    age: Mapped[float | None]
    moisture: Mapped[float | None]
    specimen_density_low: Mapped[float | None]
    specimen_density_high: Mapped[float | None]
    with_: Mapped[str | None] = mapped_column("with")
    place: Mapped[str | None]
    load: Mapped[float | None]
    atmosphere: Mapped[str | None]
    direction: Mapped[str | None]
    condition_text: Mapped[str | None] = mapped_column(Text)
    method: Mapped[str | None] = mapped_column(Text)
    origin: Mapped[str | None]
    specimen: Mapped[str | None] = mapped_column(index=True)
    uncertainty_standard: Mapped[float | None]
    uncertainty_kind: Mapped[str | None]
    uncertainty_distribution: Mapped[str | None]
    uncertainty_coverage_factor: Mapped[float | None]
    uncertainty_degrees_of_freedom: Mapped[float | None]
    uncertainty_n: Mapped[int | None]
    contributor: Mapped[str | None]
    licence: Mapped[str | None]
    status: Mapped[str] = mapped_column(default="accepted")
    version: Mapped[int] = mapped_column(default=1)
    replaces: Mapped[str | None]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain words and order, and index the look-ups."""
        return (
            Index("ix_value_material_property", "material", "property"),
            Index("ix_value_with", "with"),
            one_of("bound", words.BOUNDS),
            one_of("role", words.ROLES),
            one_of("event_kind", words.EVENT_KINDS),
            one_of("form", words.FORMS),
            one_of("state", words.STATES),
            one_of("fill", words.FILLS),
            one_of("place", words.PLACES),
            one_of("status", words.STATUSES),
            one_of("uncertainty_kind", words.UNCERTAINTY_KINDS),
            one_of("uncertainty_distribution", words.DISTRIBUTIONS),
            CheckConstraint("low <= high AND low <= typical AND typical <= high", name="ordered"),
            CheckConstraint("coalesce(low, typical, high) IS NOT NULL", name="holds_a_number"),
            CheckConstraint("basis = 'memory' OR origin IS NOT NULL", name="has_origin"),
            *cited_checks(),
        )


class Phase(Dated, Cited, Base):
    """An invariant or melting point of an oxide system."""

    __tablename__ = "phase"
    oxides: Mapped[str]
    phases: Mapped[str] = mapped_column(Text)
    kind: Mapped[str]
    temperature: Mapped[float]
    temperature_high: Mapped[float | None]
    composition: Mapped[str | None] = mapped_column(Text)

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class Cone(Dated, Cited, Base):
    """The end point of a pyrometric cone at a heating rate."""

    __tablename__ = "cone"
    series: Mapped[str]
    cone: Mapped[str]
    heating_rate: Mapped[float | None]
    temperature: Mapped[float]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class ClassLimit(Dated, Cited, Base):
    """A class limit of a standard, by edition."""

    __tablename__ = "class_limit"
    standard: Mapped[str]
    edition: Mapped[str | None]
    class_: Mapped[str] = mapped_column("class")
    quantity: Mapped[str] = mapped_column(Text)
    limit_low: Mapped[float | None]
    limit_high: Mapped[float | None]
    unit: Mapped[str]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class Standard(Dated, Cited, Base):
    """What a standard fixes."""

    __tablename__ = "standard"
    number: Mapped[str]
    title: Mapped[str] = mapped_column(Text)
    fixes: Mapped[str | None] = mapped_column(Text)
    figures: Mapped[str | None] = mapped_column(Text)

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Constrain the basis only: a standard may be its own citation."""
        return (one_of("basis", words.BASES),)


class Caution(Dated, Cited, Base):
    """A hazard: fact, trigger, figure and our advice kept apart."""

    __tablename__ = "caution"
    hazard: Mapped[str]
    materials: Mapped[str | None] = mapped_column(Text)
    kinds: Mapped[str | None]
    trigger: Mapped[str]
    below: Mapped[float | None]
    above: Mapped[float | None]
    jurisdiction: Mapped[str | None]
    issued: Mapped[str | None]
    fact: Mapped[str] = mapped_column(Text)
    figure: Mapped[str | None] = mapped_column(Text)
    advice: Mapped[str] = mapped_column(Text)

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class Practice(Dated, Cited, Base):
    """A statement of practice: curing, drying, first fire, mixing."""

    __tablename__ = "practice"
    topic: Mapped[str]
    statement: Mapped[str] = mapped_column(Text)
    value_low: Mapped[float | None]
    value_high: Mapped[float | None]
    unit: Mapped[str | None]

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class Correlation(Dated, Cited, Base):
    """A published relation."""

    __tablename__ = "correlation"
    name: Mapped[str] = mapped_column(Text)
    formula: Mapped[str] = mapped_column(Text)
    units: Mapped[str | None] = mapped_column(Text)
    validity: Mapped[str | None] = mapped_column(Text)

    @classmethod
    def checks(cls) -> tuple[Any, ...]:
        """Hold the rules of citation."""
        return cited_checks()


class LeftOut(Dated, Base):
    """A published figure seen and not used, and why."""

    __tablename__ = "left_out"
    table: Mapped[str]
    what: Mapped[str] = mapped_column(Text)
    printed: Mapped[str | None] = mapped_column(Text)
    source: Mapped[str | None]
    reason: Mapped[str] = mapped_column(Text)


RESOURCES: dict[str, type[Base]] = {
    "families": Family,
    "materials": Material,
    "properties": Property,
    "origins": Origin,
    "sources": Source,
    "specimens": Specimen,
    "specimen_constituents": SpecimenConstituent,
    "values": Value,
    "phases": Phase,
    "cones": Cone,
    "classes": ClassLimit,
    "standards": Standard,
    "cautions": Caution,
    "practice": Practice,
    "correlations": Correlation,
    "left_out": LeftOut,
}
"""Which model holds which resource of the data package, in the order of loading."""

import hotface_api.store.ledger_models  # noqa: E402, F401 - its tables belong to this metadata
