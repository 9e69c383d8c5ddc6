"""Checked by mypy, never run: the types a caller sees."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, assert_type

import numpy as np
import pint
from numpy.typing import NDArray

from hotface import (
    Casting,
    Client,
    ConeFiring,
    Curve,
    CurveFunction,
    Draws,
    Entry,
    Estimate,
    Figure,
    KeyCard,
    Material,
    MaterialProperty,
    Melting,
    Mix,
    MixSearch,
    Musts,
    NearSpecimen,
    OnHand,
    Pages,
    ProblemError,
    ProblemKind,
    PropertyAnswer,
    Question,
    Range,
    Receipt,
    Reported,
    Request,
    Response,
    ServiceCard,
    Source,
    Specimen,
    Standing,
    Survival,
    TableReport,
    Told,
    Transport,
    Value,
    WorthTrying,
    doi,
    own_measurement,
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

assert_type(est.thermal_conductivity.at("600 degC", "extrapolate"), Range)
assert_type(est.draws, Draws | None)
assert_type(est.casting, Casting | None)
assert_type(est.sources(), tuple[Source, ...])
assert_type(db.estimate(mix, draws=500, mould="12 L", spare=0.1, rule="maxwell"), Estimate)
draws = est.draws
assert draws is not None
assert_type(draws.thermal_conductivity, NDArray[np.float64])
assert_type(draws.at("thermal_conductivity", "600 degC"), NDArray[np.float64])
assert_type(db.estimates([mix], progress=print), list[Estimate])
tries = db.search_mixes([OnHand("cac-40", 0.1, 0.4)], must=Musts(density_below="1200 kg/m3"))
assert_type(tries, MixSearch)
assert_type(tries[0], WorthTrying)
assert_type([one.estimate for one in tries], list[Estimate])

one = Reported("expanded-perlite", "loose_bulk_density", "110", unit="kg/m3", at="20 degC")
receipt = db.submit(
    one, licence="CC0-1.0", source=own_measurement("a bag", "a scale", "2026-11-20")
)
assert_type(receipt, Receipt)
assert_type(receipt[0].told, Told | None)
assert_type(db.submit([one, one], licence="CC0-1.0", source=doi("10.1000/182")), Receipt)
assert_type(db.submit_csv("shed.csv", licence="CC0-1.0"), TableReport)
assert_type(db.contributions("asked"), Pages[Entry])
entry = db.contribution("c-1")
assert_type(entry, Entry)
assert_type(db.review(entry, "accept"), Standing)
assert_type(db.reply(entry, "yes"), Standing)
assert_type(db.withdraw("c-1", "damp", version=2), Standing)
assert_type(db.correct(entry, one, "the tare was counted in"), Receipt)
assert_type(db.review_many([entry], "decline", "no"), list[Standing])
assert_type(db.key_card(), KeyCard)
assert_type(db.cone_firings(cone="6"), ConeFiring)
assert_type(db.meltings(["CaO", "SiO2"]), Melting)
assert_type(db.specimens(q="perlite"), Pages[Specimen])
assert_type(db.specimens(near={"cac-40": 1, "expanded-perlite": 0.5}), Pages[NearSpecimen])
assert_type(db.about(), ServiceCard)
assert_type(db.problems(), tuple[ProblemKind, ...])

db.review(entry, "maybe")  # type: ignore[arg-type]
db.submit(one)  # type: ignore[call-arg]
Reported("mullite", "true_density", 3.1, unit="g/cm3")  # type: ignore[arg-type]
entry.state = "accepted"  # type: ignore[misc]
db.search_mixes([], wishes=["colour"])  # type: ignore[list-item]
db.survives("mullite")  # type: ignore[call-arg]
db.survives("mullite", 1050)  # type: ignore[arg-type]
db.survives("mullite", "1050 degC", place="inside")  # type: ignore[arg-type]
Mix(water=11)  # type: ignore[arg-type]
k.span = (0.0, 1.0)  # type: ignore[misc]
est.seed = 2  # type: ignore[misc]
