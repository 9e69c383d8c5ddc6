"""Bodies of mix searches, and the documented shape of their answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import marshmallow as ma
from marshmallow import fields, validate

from hotface_api.http.documented import integer, listed, nested, text
from hotface_api.http.estimate_schemas import EstimateShape
from hotface_api.http.mix_fields import Number
from hotface_api.http.mix_parts import PARTS_BY, ConstituentFields, constituent_of
from hotface_api.http.mix_schemas import (
    StateSchema,
    coverage_field,
    seed_field,
    temperatures_field,
)
from hotface_api.http.parameters import Choice, Flag, Whole
from hotface_api.http.quantities import QuantityField
from hotface_api.http.schemas import EnvelopeShape
from hotface_api.mixes.request import MAX_CONSTITUENTS, State
from hotface_api.mixes.search import (
    MAX_CANDIDATES,
    MAX_RESULTS,
    WISHES,
    Musts,
    OnHand,
    SearchRequest,
)

__all__ = ["SearchBody", "SearchShape", "search_request"]

_CANDIDATES: Final = 20_000
_RESULTS: Final = 5
_DRIEST: Final = 0.2
_WETTEST: Final = 2.0


class ShareBoundsSchema(ma.Schema):
    """Bounds of a share of the mix, by what shares are counted by."""

    low = Number(
        0,
        1,
        load_default=0.0,
        metadata={"description": "Least; at 0 the material may be left out.", "example": 0.1},
    )
    high = Number(0, 1, load_default=1.0, metadata={"description": "Most.", "example": 0.4})


class OnHandSchema(ConstituentFields):
    """A material on hand: all that may be told of a constituent, and the bounds of its share."""

    share = fields.Nested(
        ShareBoundsSchema, metadata={"description": "Any share from 0 to 1, if left out."}
    )


class MustsSchema(ma.Schema):
    """What a mix has to meet, by its typical figures."""

    service_limit_above = QuantityField(
        "temperature",
        temperature="point",
        metadata={
            "description": "The low edge of its service limit lies at or above this.",
            "example": {"value": 1000, "unit": "Cel"},
        },
    )
    density_below = QuantityField(
        "density",
        minimum=0.0,
        above=True,
        metadata={
            "description": "Bulk density in the state asked about.",
            "example": {"value": 1200, "unit": "kg/m3"},
        },
    )
    conductivity_below = QuantityField(
        "thermal conductivity",
        minimum=0.0,
        above=True,
        metadata={
            "description": "At `conductivity_at`, which goes with it.",
            "example": {"value": 0.4, "unit": "W/(m.K)"},
        },
    )
    conductivity_at = QuantityField(
        "temperature",
        temperature="point",
        metadata={
            "description": "Temperature of that conductivity.",
            "example": {"value": 600, "unit": "Cel"},
        },
    )
    allow_unproven = Flag(
        in_body=True,
        load_default=False,
        metadata={
            "description": "Take a mix too of which no use limit is held for every part, by the"
            " high edge of its limit."
        },
    )


class SearchWaterSchema(ma.Schema):
    """Water by what the search holds it constant to."""

    ratio_to_fines = Number(
        _DRIEST,
        _WETTEST,
        required=True,
        metadata={
            "description": "Free water by mass of binders and other fines; what the grains soak up"
            " comes on top, mix by mix.",
            "example": SearchRequest(()).water,
        },
    )


class SearchBody(ma.Schema):
    """What is on hand, what a mix must meet and what is wished for."""

    on_hand = fields.List(
        fields.Nested(OnHandSchema),
        required=True,
        validate=validate.Length(1, MAX_CONSTITUENTS),
        metadata={"description": "Materials to mix, with at least one binder that sets."},
    )
    shares_by = Choice(
        PARTS_BY, load_default="loose", metadata={"description": "What shares are counted by."}
    )
    water = fields.Nested(
        SearchWaterSchema,
        metadata={"description": "How wet the paste is; as a castable pours, if left out."},
    )
    musts = fields.Nested(
        MustsSchema, metadata={"description": "What a mix has to meet to be returned."}
    )
    wishes = fields.List(
        Choice(WISHES),
        validate=validate.Length(1, len(WISHES)),
        metadata={
            "description": "What is wanted besides: little `conductivity`, `density` or `binder`"
            " (the share of what sets), a high `service_limit`. A mix is returned if no other"
            " beats it in every wish.",
            "default": list(SearchRequest(()).wishes),
            "example": ["conductivity", "binder"],
        },
    )
    state = fields.Nested(StateSchema, metadata={"description": "Fired, if left out."})
    at = temperatures_field()
    candidates = Whole(
        1,
        MAX_CANDIDATES,
        in_body=True,
        load_default=_CANDIDATES,
        metadata={
            "description": "How many mixes to look at: up to 20,000 without a key, 100,000 with"
            " one, a million by the command line or the embedded service.",
            "example": _CANDIDATES,
        },
    )
    results = Whole(
        1,
        MAX_RESULTS,
        in_body=True,
        load_default=_RESULTS,
        metadata={"description": "How many mixes to return at most.", "example": _RESULTS},
    )
    coverage = coverage_field()
    seed = seed_field()


def _on_hand(data: Mapping[str, Any]) -> OnHand:
    share = data.get("share", {"low": 0.0, "high": 1.0})
    constituent = constituent_of(data, amount=1.0, amount_kind="parts")
    return OnHand(constituent, share["low"], share["high"])


def search_request(data: Mapping[str, Any]) -> SearchRequest:
    """Make the search of a body that was read."""
    usual = SearchRequest(())
    return SearchRequest(
        on_hand=tuple(_on_hand(each) for each in data["on_hand"]),
        shares_by=data["shares_by"],
        musts=Musts(**data.get("musts", {})),
        wishes=tuple(data.get("wishes", usual.wishes)),
        state=State(**data.get("state", {})),
        at=tuple(data.get("at", ())),
        water=data.get("water", {}).get("ratio_to_fines", usual.water),
        candidates=data["candidates"],
        results=data["results"],
        coverage=data["coverage"],
        seed=data["seed"],
    )


class WorthTryingShape(ma.Schema):
    """A mix worth trying."""

    mix = fields.Dict(
        required=True, metadata={"description": "The mix in parts, as an estimate takes it."}
    )
    request = fields.Dict(
        required=True,
        metadata={
            "description": "The whole request; sent to `/v1/estimates` it gives this very estimate."
        },
    )
    estimate = nested(EstimateShape, "Its estimate, in the units asked for.")


class MetShape(ma.Schema):
    """How many candidates met each must; a later one is asked only of those that can meet it."""

    service_limit = integer("A service limit proven high enough.")
    density = integer("Light enough.")
    conductivity = integer("Insulating enough.")
    workable = integer("Paste enough to fill the gaps of the grains.")


class SearchShape(EnvelopeShape):
    """Mixes worth trying: none of them beats another in every wish."""

    looked_at = integer("How many candidates were looked at.")
    met = nested(MetShape, "How many candidates met what.")
    reason = text("Why there is none.", null=True)
    mixes = listed(WorthTryingShape, "Well spread over what the wishes trade off.")
