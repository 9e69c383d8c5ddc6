"""The documented shapes of computed answers: property, survival, holdings, estimate."""

from __future__ import annotations

import marshmallow as ma
from marshmallow import fields

from hotface_api.http.documented import (
    flag,
    integer,
    listed,
    nested,
    number,
    strings,
    text,
    word,
)
from hotface_api.http.schemas import (
    CautionShape,
    EnvelopeShape,
    HeldShape,
    ProblemShape,
    QuantityShape,
    RangeShape,
    SpanShape,
)
from hotface_api.store import vocabulary as words

__all__ = [
    "HoldingItem",
    "PropertyAnswerShape",
    "SurvivalResults",
    "SurvivalShape",
]


class AnswerCondition(ma.Schema):
    """What the values behind a range share."""

    form = word(words.FORMS)
    state = word(words.STATES, null=True)
    fill = word(words.FILLS, null=True)
    with_ = fields.String(required=True, allow_none=True, data_key="with")
    direction = text(null=True)
    atmosphere = text(null=True)
    role = word(words.ROLES, null=True)
    event_kind = word(words.EVENT_KINDS, null=True)
    treatment_temperature = nested(QuantityShape, null=True)
    age = nested(QuantityShape, null=True)
    specimen_density_from = nested(QuantityShape, "Low end of a density class.", null=True)
    temperature = nested(SpanShape, "What the range holds at.", null=True)


class OtherShape(ma.Schema):
    """The same property under another condition; unlike conditions are never merged."""

    condition = nested(AnswerCondition)
    range = nested(RangeShape, null=True)
    observed = nested(RangeShape, null=True)
    origins = integer()


class PointShape(ma.Schema):
    """The range at one temperature; null outside the evidence unless extrapolation is asked for."""

    temperature = nested(QuantityShape)
    low = number()
    typical = number()
    high = number()
    extrapolated = flag()
    reason = text("Why there is no figure.", null=True)


class BandShape(ma.Schema):
    """A range over temperature, as columns of equal length."""

    temperature = fields.List(fields.Float(), required=True)
    temperature_unit = text()
    low = fields.List(fields.Float(allow_none=True), required=True)
    typical = fields.List(fields.Float(allow_none=True), required=True)
    high = fields.List(fields.Float(allow_none=True), required=True)


class UsedShape(ma.Schema):
    """A value that was used."""

    value = text()
    origin = text(null=True)
    weight = number("Share of the vote.", null=False)


class LeftOutShape(ma.Schema):
    """A value that was left out, and why."""

    value = text()
    reason = text()


class DerivationShape(ma.Schema):
    """How the range came about: every value used, and every one left out."""

    rule = text()
    text = text()
    origins = integer("Independent origins; each has one vote.")
    spread = number("Standard deviation between origins, on the property's scale.")
    spread_floor = number("Smallest such deviation that is believed.")
    used = listed(UsedShape)
    left_out = listed(LeftOutShape)
    outliers = strings("Values far from the rest; flagged, never hidden.")


class PropertyAnswerShape(EnvelopeShape):
    """What is known of a property of a material."""

    material = text()
    property = text()
    unit = text("UCUM code of points and band.")
    range = nested(RangeShape, "What to expect of a further, independent origin.", null=True)
    observed = nested(RangeShape, "The envelope of what was published.", null=True)
    condition = nested(AnswerCondition, "What was answered; null if nothing is held.", null=True)
    unverified = flag("Whether it rests on memory alone.")
    reason = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "Why there is no range."},
    )
    others = listed(OtherShape)
    points = listed(PointShape, "Answers at the temperatures asked for.", null=True)
    band = nested(BandShape, "The whole curve, if none was asked for.", null=True)
    derivation = nested(DerivationShape, null=True)
    citations = strings("Sources.")


class EventShape(ma.Schema):
    """Something that happens at a temperature, and the value that says so."""

    property = text()
    role = word(words.ROLES)
    temperature = nested(SpanShape, null=True)
    text = text()
    value = fields.String(required=True)


class FirstMeltShape(ma.Schema):
    """The lowest published liquid among oxides that meet: a caution, no limit."""

    temperature = nested(QuantityShape)
    oxides = strings()
    phases = text()
    phase = text("The phase row.")
    source = text(null=True)
    most_liquid = number("Largest share that can be liquid there, where it can be computed.")


class SurvivalShape(EnvelopeShape):
    """Whether a material survives a temperature, and what says so."""

    material = text()
    temperature = nested(QuantityShape)
    with_ = fields.String(required=True, allow_none=True, data_key="with")
    place = word(words.PLACES, null=True)
    load_ = fields.Boolean(required=True, data_key="load")
    cycling = flag()
    outcome = word(("yes", "borderline", "no", "unknown"))
    answer = text("The answer in a sentence.")
    heading = text("What the answer is about: the material alone, or with a partner.")
    limiting_event = nested(EventShape, null=True)
    limit = nested(SpanShape, "Low and high edge of the use limits.", null=True)
    margin_required = nested(QuantityShape)
    headroom = nested(QuantityShape, "Left to what limits; negative once past it.", null=True)
    melts_at = nested(SpanShape, null=True)
    first_heat = listed(EventShape, "What happens on the first heat; never decides.")
    first_melt_possible_from = nested(FirstMeltShape, null=True)
    leaves_by_design = flag("Whether the material is meant to leave on heating.")
    reasons = strings()
    origins = integer("Independent origins behind the use limits.")
    values = strings("Values the answer rests on.")
    citations = strings("Sources.")
    cautions = listed(CautionShape)
    promise = text("What the answer does not promise.")


class SurvivalResult(ma.Schema):
    """The answer to one of several questions, or its problem."""

    status = integer()
    survival = fields.Nested(SurvivalShape)
    problem = fields.Nested(ProblemShape)


class SurvivalResults(ma.Schema):
    """Answers in the order of the questions."""

    results = listed(SurvivalResult)


class MissingShape(ma.Schema):
    """A property that should be held and is not."""

    property = text()
    need = integer("How much the job needs it: 1 most, 3 least.")


class HoldingItem(ma.Schema):
    """What is held of a material and what is missing."""

    material = text()
    kind = word(words.KINDS)
    held = listed(HeldShape)
    missing = listed(MissingShape)
