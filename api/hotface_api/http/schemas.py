"""The documented shapes of rows and their parts.

These schemas describe answers in the OpenAPI document; the answers themselves are written by plain
functions (``shapes``, ``dumps``), and the tests validate the one against the other.
"""

from __future__ import annotations

import marshmallow as ma
from marshmallow import fields

from hotface_api.http.documented import flag, integer, listed, nested, number, strings, text, word
from hotface_api.http.problems import Code
from hotface_api.store import vocabulary as words

__all__ = [
    "CautionItem",
    "CautionShape",
    "ClassItem",
    "ConeItem",
    "EnvelopeShape",
    "HeldShape",
    "HistoryShape",
    "LimitSpan",
    "MaterialItem",
    "PhaseItem",
    "ProblemShape",
    "PropertyItem",
    "QuantityShape",
    "RangeShape",
    "RevisionItem",
    "SourceItem",
    "SpanShape",
    "SpecimenItem",
    "SpecimenShape",
    "StandardItem",
    "ValueItem",
    "ValueShape",
]


class QuantityShape(ma.Schema):
    """A number with its UCUM unit."""

    value = number(null=False)
    unit = text("UCUM code")


class SpanShape(ma.Schema):
    """Two ends in one unit; an open end is null."""

    low = number()
    high = number()
    unit = text("UCUM code")


class LimitSpan(SpanShape):
    """The low and high edge of a limit."""


class RangeShape(ma.Schema):
    """A range: what was published (`observed`), or what to expect (`interval`)."""

    low = number()
    typical = number()
    high = number()
    unit = text("UCUM code")
    kind = word(("interval", "observed"))
    coverage = number("Share of further origins an interval is to hold; null for `observed`.")


class EnvelopeShape(ma.Schema):
    """What every single answer carries: which data and which rules gave it."""

    database_id = text("Identifies the database the answer is of.")
    revision = integer("Revision of the data the answer is of.")
    rules_version = text("Version of the rules that turn values into answers.")


class CitedShape(ma.Schema):
    """How a row is known."""

    source = text("Source the figure is attributed to.", null=True)
    locator = text("Where in the source.", null=True)
    basis = word(words.BASES, "How the figure is known; `memory` was checked by nobody.")
    quoted_in = text("Source it was seen in, if that is another.", null=True)
    recalled_source = text("What a figure from memory is recalled from.", null=True)
    note = text(null=True)


class MaterialItem(ma.Schema):
    """A generic class of material."""

    id = text()
    name = text()
    kind = word(words.KINDS)
    family = text("Family of unlike grades it belongs to.", null=True)
    also_known_as = strings()
    description = text()
    solid = text("Mineral or glass its pore-free substance mostly is.", null=True)


class HeldShape(ma.Schema):
    """What is held of one property of a material."""

    property = text()
    values = integer("Values held.")
    origins = integer("Independent origins among the cited ones.")
    forms = strings()
    curve = flag("Whether it is held over temperature.")
    up_to = nested(QuantityShape, "Highest temperature a value states.", null=True)
    unverified = flag("Whether it is known from memory only.")


class ConditionPair(ma.Schema):
    """The condition a property is answered in first."""

    form = word(words.FORMS, null=True)
    state = word(words.STATES, null=True)


class PropertyItem(ma.Schema):
    """A quantity and its definition; limits and floor are in `unit`."""

    id = text()
    name = text()
    definition = text()
    standard = text("Standard that fixes the quantity or its test.", null=True)
    unit = text("Output unit, SI.")
    unit_us = text("Output unit, US customary.")
    quantity_kind = text("QUDT quantity kind.", null=True)
    temperature_kind = word(("point", "difference"), null=True)
    group = word(words.GROUPS)
    forms = strings("Forms it applies to.")
    canonical_condition = nested(ConditionPair)
    scale = word(words.SCALES)
    spread_floor = number("Smallest standard deviation between origins that is believed.")
    varies_with_temperature = flag()
    minimum = number("Smallest possible value.")
    maximum = number("Largest possible value.")
    need = integer("How much the job needs it: 1 most, 3 least.")


class SourceItem(ma.Schema):
    """A cited text."""

    id = text()
    source_type = word(words.SOURCE_TYPES)
    origin = text("Who first measured; sources that repeat one origin share it.")
    seen = text("How much of the text was seen.")
    citation = fields.Dict(required=True, metadata={"description": "CSL-JSON item."})


class PrintedShape(ma.Schema):
    """The figures as the source prints them, as text."""

    low = text(null=True)
    typical = text(null=True)
    high = text(null=True)
    unit = text("Unit as printed.")
    code = text("UCUM code the printed unit is read as.")


class ValueCondition(ma.Schema):
    """What a value holds for; what is not stated is null."""

    form = word(words.FORMS)
    state = word(words.STATES, null=True)
    fill = word(words.FILLS, null=True)
    grain_size = nested(SpanShape, null=True)
    treatment_temperature = nested(QuantityShape, null=True)
    reference_temperature = nested(QuantityShape, null=True)
    duration = nested(QuantityShape, null=True)
    age = nested(QuantityShape, null=True)
    moisture = nested(QuantityShape, "Water by mass of dry.", null=True)
    specimen_density = nested(SpanShape, null=True)
    with_ = fields.String(
        required=True,
        allow_none=True,
        data_key="with",
        metadata={"description": "Partner material the figure holds with."},
    )
    place = word(words.PLACES, null=True)
    load_ = fields.Nested(QuantityShape, required=True, allow_none=True, data_key="load")
    atmosphere = text(null=True)
    direction = text(null=True)
    text = text("The condition in words.", null=True)


class UncertaintyShape(ma.Schema):
    """A stated uncertainty (GUM)."""

    standard = nested(QuantityShape, "Standard uncertainty.")
    kind = word(words.UNCERTAINTY_KINDS, null=True)
    distribution = word(words.DISTRIBUTIONS, null=True)
    coverage_factor = number()
    degrees_of_freedom = number()
    n = integer("Number of readings.", null=True)


class ValueItem(CitedShape):
    """One published or contributed figure."""

    id = text()
    material = text()
    property = text()
    low = number()
    typical = number()
    high = number()
    unit = text("UCUM code of low, typical and high.")
    bound = word(words.BOUNDS)
    role = word(words.ROLES, "What kind of limit; null for what is no limit.", null=True)
    event_kind = word(words.EVENT_KINDS, "What kind of event; null for what is none.", null=True)
    printed = nested(PrintedShape)
    temperature = nested(SpanShape, "What it holds at; null if not stated.", null=True)
    condition = nested(ValueCondition)
    method = text(null=True)
    source_type = word(words.SOURCE_TYPES, null=True)
    origin = text("Who first measured.", null=True)
    specimen = text("Specimen or curve it belongs to.", null=True)
    uncertainty = nested(UncertaintyShape, null=True)
    contributor = text(null=True)
    licence = text(null=True)
    status = word(words.STATUSES)
    from_revision = integer(null=True)
    to_revision = integer("Revision that closed the row; null while it is served.", null=True)
    replaces = text("Value this one corrects.", null=True)


class ValueShape(ValueItem, EnvelopeShape):
    """One value, alone."""


class HistoryShape(EnvelopeShape):
    """A value with what it replaced and what replaced it, oldest first."""

    items = listed(ValueItem)


class RecipeLineShape(ma.Schema):
    """One line of a recipe."""

    material = text()
    part = word(words.KINDS[:6])
    mass_percent = number("Share of the dry mass.")
    volume_percent = number("Share of volume as the source counts it.")


class SpecimenItem(CitedShape):
    """One measured body, or one published curve."""

    id = text()
    material = text()
    kind = word(words.SPECIMEN_KINDS)
    name = text()
    proportions = text("Recipe in words.", null=True)
    constituents = listed(RecipeLineShape)
    water_binder_ratio = number("Water to hydraulic binder by mass.")
    state = word(words.STATES, null=True)
    treatment_temperature = nested(QuantityShape, null=True)
    age = nested(QuantityShape, null=True)
    moisture = nested(QuantityShape, null=True)
    method = text(null=True)
    origin = text(null=True)


class SpecimenShape(SpecimenItem, EnvelopeShape):
    """One specimen with what was measured on it."""

    values = listed(ValueItem)


class RevisionItem(ma.Schema):
    """One accepted change of what is served."""

    number = integer()
    made_at = fields.DateTime(required=True, metadata={"description": "RFC 3339, UTC."})
    kind = word(("seed", "contribution", "correction", "withdrawal"))
    summary = text()
    package_version = text(null=True)
    content_digest = text(null=True)


class PhaseItem(CitedShape):
    """An invariant or melting point of an oxide system."""

    id = text()
    oxides = strings()
    phases = text("Phases in equilibrium.")
    kind = text()
    temperature = nested(QuantityShape)
    temperature_high = nested(QuantityShape, null=True)
    composition = text(null=True)


class ConeItem(CitedShape):
    """The end point of a pyrometric cone."""

    id = text()
    series = text()
    cone = text("Number as printed.")
    heating_rate = nested(QuantityShape, null=True)
    temperature = nested(QuantityShape)


class ClassItem(CitedShape):
    """A class limit of a standard, in the unit of the standard."""

    id = text()
    standard = text()
    edition = text(null=True)
    class_ = fields.String(required=True, data_key="class")
    quantity = text("What is limited.")
    limit_low = number()
    limit_high = number()
    unit = text()


class StandardItem(CitedShape):
    """What a standard fixes."""

    id = text()
    number = text()
    title = text()
    fixes = text(null=True)
    figures = text(null=True)


class CautionShape(ma.Schema):
    """A hazard: fact, figure and our advice kept apart."""

    id = text()
    hazard = text()
    trigger = text("Step of the work that brings it.")
    fact = text()
    figure = text(null=True)
    advice = text()
    jurisdiction = text("Where the figure is law or rule.", null=True)
    issued = text(null=True)
    source = text(null=True)
    basis = word(words.BASES)


class CautionItem(CautionShape, CitedShape):
    """A caution with what it applies to."""

    materials = strings("Materials that carry it; with no kinds either: any.")
    kinds = strings()
    below = nested(QuantityShape, null=True)
    above = nested(QuantityShape, null=True)


class FaultShape(ma.Schema):
    """One fault in a request."""

    detail = text()
    pointer = fields.String(metadata={"description": "JSON pointer into the body."})
    parameter = fields.String(metadata={"description": "Parameter of path or query."})


class ProblemShape(ma.Schema):
    """A problem document (RFC 9457)."""

    type = text("Address of the description of this kind of problem.")
    title = text()
    status = integer()
    detail = text("What was wrong and what to do.")
    instance = text()
    code = word(tuple(code.word for code in Code), "Stable; the part for programs.")
    request_id = text("Names this very request in the service's log.", null=True)
    errors = listed(FaultShape)
    nearest = fields.List(fields.String(), metadata={"description": "What may have been meant."})
