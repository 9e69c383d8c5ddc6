"""Checked by mypy, never run: the types a caller sees."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, assert_type

import numpy as np
import pint
from numpy.typing import NDArray

from hotface import (
    Client,
    Curve,
    CurveFunction,
    Estimate,
    Figure,
    Material,
    MaterialProperty,
    Mix,
    Pages,
    ProblemError,
    PropertyAnswer,
    Question,
    Range,
    Request,
    Response,
    Survival,
    Transport,
    Value,
)


class Own:
    """A transport of the caller's own."""

    def send(self, request: Request) -> Response:
        """Answer nothing."""
        return Response(200, {}, request.method.encode())

    def close(self) -> None:
        """Hold nothing."""


def questions() -> Iterator[Question]:
    """Ask one question."""
    yield Question("mullite", "1050 degC", place="face")


own: Transport = Own()
db = Client(transport=own)
assert_type(db.survives("mullite", (1050, "degC")), Survival)
assert_type(db.survives("mullite", "1050 degC").headroom, Figure | None)
assert_type(db.survivals(questions()), list[Survival])
assert_type(
    db.survivals([("mullite", "1 degC")], on_problem="return"), list[Survival | ProblemError]
)

mullite = db.material("mullite")
assert_type(mullite, Material)
assert_type(mullite.thermal_conductivity, MaterialProperty)
assert_type(mullite.thermal_conductivity.at("600 degC"), Range)
assert_type(mullite.thermal_conductivity.at("600 degC").typical, pint.Quantity[Any] | None)
assert_type(mullite.thermal_conductivity.values(), Pages[Value])
assert_type(db.property("mullite", "thermal_conductivity", at=["600 degC"]), PropertyAnswer)
assert_type(db.values(material="mullite").all(), list[Value])

mix = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
assert_type(mix, Mix)
est = db.estimate(mix, fired="1000 degC", at=["200 degC", "600 degC"])
assert_type(est, Estimate)
assert_type(est.bulk_density, Range)
assert_type(est.thermal_conductivity, Curve)
k = est.thermal_conductivity.function(outside="clamp")
assert_type(k, CurveFunction)
assert_type(k(600.0), float)
assert_type(k(600), float)
assert_type(k([200.0, 600.0]), list[float])
array: NDArray[np.float64] = np.linspace(20, 600, 5)
assert_type(k(array), NDArray[np.float64])
assert_type(k("600 degC"), pint.Quantity[Any])
assert_type(k((600, "degC")), pint.Quantity[Any])
assert_type(db.estimates([mix], fired="1000 degC"), list[Estimate])
assert_type(
    db.estimates([mix], on_problem="return", fired="1000 degC"), list[Estimate | ProblemError]
)

db.survives("mullite")  # type: ignore[call-arg]
db.survives("mullite", 1050)  # type: ignore[arg-type]
db.survives("mullite", "1050 degC", place="inside")  # type: ignore[arg-type]
Mix(water=11)  # type: ignore[arg-type]
k.span = (0.0, 1.0)  # type: ignore[misc]
est.seed = 2  # type: ignore[misc]
