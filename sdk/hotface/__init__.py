"""hotface: refractory properties with their sources, from a service or embedded.

::

    from hotface import Client, Mix

    db = Client()  # the embedded service; Client("https://...") asks another
    db.survives("expanded-perlite", "1050 degC").outcome
    db.material("mullite").thermal_conductivity.at("600 degC")

Importing this package loads nothing else; a name loads its part when it is first used, and pint is
loaded with the first quantity.
"""

from typing import TYPE_CHECKING, Any

from hotface._results import HOMES, public

if TYPE_CHECKING:
    from hotface._client import Client
    from hotface._curves import Curve, CurveFunction
    from hotface._decode import Row
    from hotface._errors import (
        BadMixFile,
        BadQuantity,
        Conflict,
        ConnectionFailed,
        HotfaceError,
        InvalidRequest,
        NoAnswer,
        NotAllowed,
        NotAnAnswer,
        NotFound,
        NotInstalled,
        OldServer,
        OutsideSpan,
        ProblemError,
        RateLimited,
        ServerFault,
    )
    from hotface._estimate import Estimate
    from hotface._estimate_parts import (
        Assumption,
        Composition,
        DoubtShare,
        MixShare,
        NearSpecimen,
        ServiceLimit,
        StrengthClass,
    )
    from hotface._materials import HeldProperty, Material, MaterialProperty, MaterialSummary
    from hotface._mix import Constituent, Mix
    from hotface._pages import Pages
    from hotface._properties import Derivation, LeftOut, OtherRange, PropertyAnswer, UsedValue
    from hotface._quantities import Figure, QuantityLike
    from hotface._ranges import Magnitudes, Range
    from hotface._records import (
        Caution,
        Condition,
        Holding,
        Printed,
        PropertyDefinition,
        Revision,
        Source,
        Specimen,
        SpecimenPart,
        Value,
    )
    from hotface._request import EstimateRequest
    from hotface._retry import RetryPolicy
    from hotface._survival import LimitEvent, MeltPoint, Question, Survival
    from hotface._transport import HTTPTransport, Request, Response, Transport

__all__ = [
    "Assumption",
    "BadMixFile",
    "BadQuantity",
    "Caution",
    "Client",
    "Composition",
    "Condition",
    "Conflict",
    "ConnectionFailed",
    "Constituent",
    "Curve",
    "CurveFunction",
    "Derivation",
    "DoubtShare",
    "Estimate",
    "EstimateRequest",
    "Figure",
    "HTTPTransport",
    "HeldProperty",
    "Holding",
    "HotfaceError",
    "InvalidRequest",
    "LeftOut",
    "LimitEvent",
    "Magnitudes",
    "Material",
    "MaterialProperty",
    "MaterialSummary",
    "MeltPoint",
    "Mix",
    "MixShare",
    "NearSpecimen",
    "NoAnswer",
    "NotAllowed",
    "NotAnAnswer",
    "NotFound",
    "NotInstalled",
    "OldServer",
    "OtherRange",
    "OutsideSpan",
    "Pages",
    "Printed",
    "ProblemError",
    "PropertyAnswer",
    "PropertyDefinition",
    "QuantityLike",
    "Question",
    "Range",
    "RateLimited",
    "Request",
    "Response",
    "RetryPolicy",
    "Revision",
    "Row",
    "ServerFault",
    "ServiceLimit",
    "Source",
    "Specimen",
    "SpecimenPart",
    "StrengthClass",
    "Survival",
    "Transport",
    "UsedValue",
    "Value",
]

if not TYPE_CHECKING:  # a type checker must keep telling a name that does not exist

    def __getattr__(name: str) -> Any:
        """Load a public name when it is first asked for."""
        if name not in HOMES:
            raise AttributeError(f"hotface has no {name!r}")
        found = globals()[name] = public(name)
        return found

    def __dir__() -> list[str]:
        return __all__
