"""The mixes the tests ask about: the lid and collar of a pottery club's kiln."""

from __future__ import annotations

import math

from hotface_api.mixes.request import Constituent, EstimateRequest, Mix, State, Triple

FIRED = State("fired", 1273.15)
DRIED = State("dried", 383.15)


def part(material, amount, amount_kind="mass", **more):
    return Constituent(material, amount, amount_kind, **more)


def lid(**more):
    """Cement and buckets of expanded clay, as the club casts its lid."""
    mix = Mix((part("cac-40", 25.0), part("expanded-clay", 0.060, "volume")), 11.0)
    return EstimateRequest(mix, more.pop("state", FIRED), **more)


def collar(**more):
    """The flue collar: lighter, with perlite and a little fireclay."""
    parts = (
        part("cac-40", 25.0),
        part("fireclay", 5.0),
        part("expanded-clay", 0.050, "volume"),
        part("expanded-perlite", 0.040, "volume"),
        part("polypropylene-fibre", 0.05),
    )
    return EstimateRequest(Mix(parts, 16.0), more.pop("state", FIRED), **more)


def exact(**values):
    return {name: Triple.exactly(value) for name, value in values.items()}


def codes(answer):
    return {note.code for note in answer.assumptions}


def width(found):
    """Give the log-width of a range."""
    return math.log(found.high / found.low)
