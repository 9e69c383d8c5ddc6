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
    from hotface._about import ProblemKind, ServiceCard
    from hotface._casting import Casting, Drying, DryingStep, Practice, Weighing
    from hotface._client import Client
    from hotface._curves import Curve
    from hotface._decode import Row
    from hotface._draws import Draws
    from hotface._entries import Entry, KeyCard, Remark, Standing
    from hotface._errors import (
        BadContribution,
        BadMixFile,
        BadQuantity,
        Conflict,
        ConnectionFailed,
        Gone,
        HotfaceError,
        InvalidRequest,
        KeyNeeded,
        KeyRefused,
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
        Stale,
        Unavailable,
        VersionNeeded,
    )
    from hotface._estimate import Estimate
    from hotface._estimate_parts import (
        Assumption,
        ClosestClass,
        Composition,
        DoubtShare,
        EstimateState,
        MixShare,
        NearSpecimen,
        ServiceLimit,
        StrengthClass,
        Validation,
    )
    from hotface._functions import CurveFunction
    from hotface._lookups import ConeFiring, ConeMatch, ConeReading, Melting, PhasePoint
    from hotface._materials import HeldProperty, Material, MaterialProperty, MaterialSummary
    from hotface._measured import Measured
    from hotface._mix import Constituent, Mix
    from hotface._pages import Pages
    from hotface._properties import Derivation, LeftOut, OtherRange, PropertyAnswer, UsedValue
    from hotface._quantities import Figure, QuantityLike
    from hotface._ranges import Magnitudes, Range
    from hotface._receipts import (
        Agreement,
        Fault,
        Receipt,
        ReceiptItem,
        Slip,
        TableReport,
        TableRow,
        Told,
    )
    from hotface._records import (
        Caution,
        Condition,
        Printed,
        PropertyDefinition,
        Revision,
        Source,
        Specimen,
        SpecimenPart,
        Value,
    )
    from hotface._reported import (
        NewMaterial,
        NewSpecimen,
        Reported,
        ReportedSource,
        Uncertainty,
        bibtex,
        csl,
        doi,
        held_source,
        own_measurement,
    )
    from hotface._request import EstimateRequest
    from hotface._retry import RetryPolicy
    from hotface._search import MixSearch, Musts, OnHand, WorthTrying
    from hotface._survival import LimitEvent, MeltPoint, Question, Survival
    from hotface._tables import ClassLimit, Cone, Held, Holding, Missing, Phase, Standard
    from hotface._transport import HTTPTransport, Request, Response, Transport

__all__ = [
    "Agreement",
    "Assumption",
    "BadContribution",
    "BadMixFile",
    "BadQuantity",
    "Casting",
    "Caution",
    "ClassLimit",
    "Client",
    "ClosestClass",
    "Composition",
    "Condition",
    "Cone",
    "ConeFiring",
    "ConeMatch",
    "ConeReading",
    "Conflict",
    "ConnectionFailed",
    "Constituent",
    "Curve",
    "CurveFunction",
    "Derivation",
    "DoubtShare",
    "Draws",
    "Drying",
    "DryingStep",
    "Entry",
    "Estimate",
    "EstimateRequest",
    "EstimateState",
    "Fault",
    "Figure",
    "Gone",
    "HTTPTransport",
    "Held",
    "HeldProperty",
    "Holding",
    "HotfaceError",
    "InvalidRequest",
    "KeyCard",
    "KeyNeeded",
    "KeyRefused",
    "LeftOut",
    "LimitEvent",
    "Magnitudes",
    "Material",
    "MaterialProperty",
    "MaterialSummary",
    "Measured",
    "MeltPoint",
    "Melting",
    "Missing",
    "Mix",
    "MixSearch",
    "MixShare",
    "Musts",
    "NearSpecimen",
    "NewMaterial",
    "NewSpecimen",
    "NoAnswer",
    "NotAllowed",
    "NotAnAnswer",
    "NotFound",
    "NotInstalled",
    "OldServer",
    "OnHand",
    "OtherRange",
    "OutsideSpan",
    "Pages",
    "Phase",
    "PhasePoint",
    "Practice",
    "Printed",
    "ProblemError",
    "ProblemKind",
    "PropertyAnswer",
    "PropertyDefinition",
    "QuantityLike",
    "Question",
    "Range",
    "RateLimited",
    "Receipt",
    "ReceiptItem",
    "Remark",
    "Reported",
    "ReportedSource",
    "Request",
    "Response",
    "RetryPolicy",
    "Revision",
    "Row",
    "ServerFault",
    "ServiceCard",
    "ServiceLimit",
    "Slip",
    "Source",
    "Specimen",
    "SpecimenPart",
    "Stale",
    "Standard",
    "Standing",
    "StrengthClass",
    "Survival",
    "TableReport",
    "TableRow",
    "Told",
    "Transport",
    "Unavailable",
    "Uncertainty",
    "UsedValue",
    "Validation",
    "Value",
    "VersionNeeded",
    "Weighing",
    "WorthTrying",
    "bibtex",
    "csl",
    "doi",
    "held_source",
    "own_measurement",
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
