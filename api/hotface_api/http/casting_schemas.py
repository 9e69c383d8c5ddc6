"""The documented shape of what fills a mould, and of draws."""

from __future__ import annotations

import marshmallow as ma
from marshmallow import fields

from hotface_api.http.documented import integer, listed, nested, number, text
from hotface_api.http.schemas import QuantityShape, RangeShape, SpanShape

__all__ = ["CastingShape", "DrawsShape"]


class CastPartShape(ma.Schema):
    """How much of one constituent fills the mould, spare included."""

    material = text("Material id, or the name of one's own.")
    dry_mass = nested(RangeShape, "What it weighs dry.")
    amount = nested(
        RangeShape, "In the measure the mix was given in: a mass, or a volume as `measured_as`."
    )
    measured_as = text("`loose` or `absolute` where the amount is a volume.", null=True)


class PieceShape(ma.Schema):
    """What the piece weighs, without the spare, by state."""

    fresh = nested(RangeShape)
    demoulded = nested(RangeShape)
    dried = nested(RangeShape)
    fired = nested(RangeShape)


class PracticeShape(ma.Schema):
    """A statement of practice, and where it is printed."""

    practice = text("Id of the statement.")
    statement = text("What is printed, in short.")
    source = text("Id of the source.", null=True)
    locator = text("Where in it.", null=True)


class DryingStepShape(PracticeShape):
    """A step of a printed drying sheet."""

    title = text("What to do.")
    reaches = nested(SpanShape, "Temperatures it ends at.", null=True)
    ramp_at_most = nested(QuantityShape, "The quickest the sheet allows.", null=True)
    hold = nested(QuantityShape, "The hold the sheet prints for this thickness.", null=True)
    takes_at_least = nested(QuantityShape, "At the quickest the sheet allows.", null=True)


class DryingShape(ma.Schema):
    """What is printed on drying a wall of a thickness: typical practice, not a guarantee."""

    thickness = nested(QuantityShape, "As it was told.")
    water_unbound = nested(RangeShape, "In the piece at demoulding; drying drives it out.")
    water_bound = nested(RangeShape, "In the piece; firing drives it out.")
    steps = listed(DryingStepShape, "Of one printed sheet, in order.")
    takes_at_least = nested(
        QuantityShape, "To the end of the last hold, at the quickest the sheet allows.", null=True
    )
    others = listed(PracticeShape, "What other sources print; they do not agree with the sheet.")
    promise = text("What this is and is not.")
    reason = text("Why there are no steps.", null=True)


class CastingShape(ma.Schema):
    """What to mix to fill a mould."""

    mould_volume = nested(QuantityShape, "As it was told.")
    spare = number("Share mixed beyond it.", null=False)
    batches = nested(
        RangeShape, "How often the mix as given fills it; null for amounts in parts.", null=True
    )
    one_part = nested(RangeShape, "How big one part is, for amounts in parts.", null=True)
    constituents = listed(CastPartShape, "What to measure out of each, spare included.")
    water = nested(RangeShape, "To pour in; what damp constituents bring is not in it.")
    piece = nested(PieceShape, "What it weighs, without the spare.")
    drying = nested(DryingShape, "For the thickness that was told; null without one.", null=True)


class DrawnShape(ma.Schema):
    """One figure a draw."""

    unit = text("UCUM code.")
    values = fields.List(
        fields.Float(), required=True, metadata={"description": "One figure a draw."}
    )


class DrawnCurveShape(ma.Schema):
    """A row a draw, in it one figure a temperature."""

    unit = text("UCUM code.")
    values = fields.List(
        fields.List(fields.Float()), required=True, metadata={"description": "A row a draw."}
    )


class DrawnDensitiesShape(ma.Schema):
    """Draws of the density by state."""

    fresh = nested(DrawnShape)
    demoulded = nested(DrawnShape)
    dried = nested(DrawnShape)
    fired = nested(DrawnShape)


class DrawsShape(ma.Schema):
    """Draws correlated as drawn: place 7 of every list is one and the same chance piece."""

    count = integer("As many as were asked for.")
    temperatures = fields.List(
        fields.Float(),
        required=True,
        metadata={"description": "Of the columns of a curve, in `temperature_unit`."},
    )
    temperature_unit = text("UCUM code.")
    bulk_density = nested(DrawnShape, "In the state asked about.")
    densities = nested(DrawnDensitiesShape, "By state.")
    thermal_conductivity = nested(DrawnCurveShape, "In the state asked about.")
    specific_heat_capacity = nested(
        DrawnCurveShape, "Null for the reason under `reasons`.", null=True
    )
    thermal_strain = nested(DrawnCurveShape, "Null for the reason under `reasons`.", null=True)
