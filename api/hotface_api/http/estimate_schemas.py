"""The documented shape of an estimate."""

from __future__ import annotations

import marshmallow as ma
from marshmallow import fields

from hotface_api.http.answer_schemas import FirstMeltShape
from hotface_api.http.casting_schemas import CastingShape, DrawsShape
from hotface_api.http.documented import flag, integer, listed, nested, number, strings, text
from hotface_api.http.schemas import (
    CautionShape,
    EnvelopeShape,
    ProblemShape,
    QuantityShape,
    RangeShape,
    SpecimenItem,
    ValueItem,
)

__all__ = ["EstimateResults", "EstimateShape"]


class ShareShape(ma.Schema):
    """One constituent's share."""

    material = text()
    mass_fraction = number("Of the dry mass.", null=False)
    volume_fraction = number("Of the fresh volume.", null=False)
    dry_mass = nested(
        RangeShape, "In the mix as given; null where amounts are in parts.", null=True
    )


class CompositionShape(ma.Schema):
    """Shares, porosity and yield."""

    constituents = listed(ShareShape)
    porosity = nested(RangeShape, "In the state asked about.")
    yield_ = fields.Nested(
        RangeShape,
        required=True,
        data_key="yield",
        metadata={"description": "Fresh volume; per mass of dry mix if given in parts."},
    )
    water = nested(RangeShape, "Mixing water; per mass of dry mix if given in parts.")
    pack_factor = nested(RangeShape, "Fresh volume over the sum of loose volumes.", null=True)


class BoundedPointShape(ma.Schema):
    """The range at one temperature, with the bounds no arrangement of the parts can leave."""

    temperature = nested(QuantityShape)
    low = number()
    typical = number()
    high = number()
    lower_bound = number("No arrangement alike in all directions conducts less.")
    upper_bound = number("Nor more.")
    series_bound = number("All in layers across the flow.")
    parallel_bound = number("All in layers along the flow.")


class BoundedCurveShape(ma.Schema):
    """Conductivity over temperature."""

    unit = text()
    method = text("How it was homogenised.")
    points = listed(BoundedPointShape)


class CurveItemShape(ma.Schema):
    """The range at one temperature."""

    temperature = nested(QuantityShape)
    low = number()
    typical = number()
    high = number()


class CurveShape(ma.Schema):
    """A property over temperature."""

    unit = text()
    points = listed(CurveItemShape)


class ServiceLimitShape(RangeShape):
    """How hot the mix may be used: the weakest part that has to stay."""

    limited_by = text("The constituent that limits.", null=True)
    event = text("What limits it.", null=True)
    unknown_ = fields.List(
        fields.String(),
        required=True,
        data_key="unknown",
        metadata={"description": "Constituents of which no use limit is held."},
    )
    first_melt_possible_from = nested(FirstMeltShape, null=True)
    values = strings()
    citations = strings()


class StrengthClassShape(ma.Schema):
    """A strength class scaled from a measured body; not for load."""

    low = number()
    high = number()
    unit = text()
    reference_mix = text("The measured body.")
    reference_strength = nested(QuantityShape)
    reference_density = nested(QuantityShape)
    source = fields.String(required=True, allow_none=True)
    text = text()


class ClosestClassShape(ma.Schema):
    """A published class like this mix: not tested, not certified, not a use temperature."""

    standard = fields.String(required=True)
    name = fields.String(required=True)
    edition = text(null=True)
    density_at_most = nested(QuantityShape)
    shrinkage_temperature = nested(QuantityShape)
    unverified = flag("Whether the class limits are known from memory only.")
    citations = strings()
    text = text()


class EstimateProperties(ma.Schema):
    """What is estimated; what is null has its reason under `reasons`."""

    bulk_density = nested(RangeShape)
    thermal_conductivity = nested(BoundedCurveShape)
    specific_heat_capacity = nested(CurveShape, null=True)
    thermal_strain = nested(CurveShape, null=True)
    permanent_change = nested(RangeShape, "Length left changed by firing.", null=True)
    strength_class = nested(StrengthClassShape, null=True)
    service_limit = nested(ServiceLimitShape)


class DensitiesShape(ma.Schema):
    """Density by state."""

    fresh = nested(RangeShape)
    demoulded = nested(RangeShape)
    dried = nested(RangeShape)
    fired = nested(RangeShape)


class EstimateStateShape(ma.Schema):
    """The state asked about."""

    kind = text()
    temperature = nested(QuantityShape, null=True)
    moisture = nested(QuantityShape, "As it was told.", null=True)
    water = nested(
        RangeShape, "Liquid water by mass of the rest of the body, in this state.", null=True
    )


class MeasuredConductivityShape(QuantityShape):
    """A measured conductivity."""

    temperature = nested(QuantityShape, "Mean temperature of the measurement.")


class MeasuredFiguresShape(ma.Schema):
    """What was told to be measured on the piece, in the units of the answer."""

    bulk_density = nested(QuantityShape, "In the state asked about.", null=True)
    densities = fields.Dict(
        keys=fields.String(),
        values=fields.Nested(QuantityShape),
        required=True,
        metadata={"description": "In other states, by state."},
    )
    thermal_conductivity = nested(MeasuredConductivityShape, "In the state asked about.", null=True)
    spread = number("Relative standard uncertainty taken for each of these.", null=False)


class DoubtShape(ma.Schema):
    """An input, its share of the doubt, and what would help."""

    input = text()
    share = number("Share of the doubt in the output.", null=False)
    advice = text("What to measure.")
    output = text("The property in doubt.")


class AssumptionShape(ma.Schema):
    """Something taken where nothing is held."""

    code = text()
    text = text()


class NearestSpecimenShape(SpecimenItem):
    """A measured body close to this mix: stronger evidence than any rule."""

    distance = number("0: alike in all that is known.", null=False)
    because = fields.Dict(
        keys=fields.String(),
        values=fields.Float(),
        required=True,
        metadata={"description": "What the distance is made of."},
    )
    values = listed(ValueItem)


class ValidationShape(ma.Schema):
    """The measured bodies this kind of mix was tried on."""

    family = fields.String(required=True, allow_none=True)
    bodies = integer()
    sources = integer()
    median_error = number()
    coverage = number("Share of the bodies that lay in their interval.")
    text = text()


class EstimateShape(EnvelopeShape):
    """The composite of a mix: densities, conductivity, heat, limit, and what is doubtful."""

    coverage = number("Coverage of every interval.", null=False)
    seed = integer("Seed of the draws: the same request gives the same answer.")
    state = nested(EstimateStateShape)
    mix = fields.Dict(required=True, metadata={"description": "The mix as it was given."})
    measured = nested(MeasuredFiguresShape, "Null where nothing was.", null=True)
    rule = text("The conductivity rule asked for; null for the defaults by structure.", null=True)
    rule_options = fields.Dict(
        keys=fields.String(),
        values=fields.Float(),
        required=True,
        metadata={"description": "Options of that rule."},
    )
    composition = nested(CompositionShape)
    properties = nested(EstimateProperties)
    densities = nested(DensitiesShape)
    casting = nested(CastingShape, "What fills the mould asked about.", null=True)
    draws = nested(DrawsShape, "As many as were asked for.", null=True)
    closest_class = nested(ClosestClassShape, null=True)
    nearest_specimens = listed(NearestSpecimenShape)
    doubt_shares = listed(DoubtShape, "What to measure next, most useful first.")
    narrowed_by = fields.Dict(
        keys=fields.String(),
        values=fields.Float(),
        required=True,
        metadata={"description": "By what share measuring narrowed an interval."},
    )
    validated_on = nested(ValidationShape, null=True)
    assumptions = listed(AssumptionShape)
    cautions = listed(CautionShape)
    citations = strings()
    reasons = fields.Dict(
        keys=fields.String(),
        values=fields.String(),
        required=True,
        metadata={"description": "Why what is null is null, by name."},
    )


class EstimateResult(ma.Schema):
    """The answer to one of several requests, or its problem."""

    status = integer()
    estimate = fields.Nested(EstimateShape)
    problem = fields.Nested(ProblemShape)


class EstimateResults(ma.Schema):
    """Answers in the order of the requests."""

    results = listed(EstimateResult)
