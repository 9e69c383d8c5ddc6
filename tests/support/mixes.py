"""The mixes the tests ask about: the lid and collar of a pottery club's kiln."""

from __future__ import annotations

from hotface_api.mixes.request import Constituent, EstimateRequest, Mix, State, Triple

FIRED = State("fired", 1273.15)


def part(material, amount, kind="mass", **more):
    return Constituent(material, amount, kind, **more)


def lid(**more):
    mix = Mix((part("cac-40", 25.0), part("expanded-clay", 0.060, "volume")), 11.0)
    return EstimateRequest(mix, FIRED, **more)


def exact(**values):
    return {name: Triple.exactly(value) for name, value in values.items()}
