"""Many mixes in one call: the numbers of single ones, each fault its own."""

from __future__ import annotations

import pytest

from hotface_api.mixes import held, nearest, service
from hotface_api.mixes.estimate import MAX_BATCH, Estimate, estimate_many
from hotface_api.mixes.request import EstimateRequest, Measured, Mix, MixError
from support.mixes import FIRED, collar, lid, part

REQUESTS = (
    lid(),
    collar(seed=3),
    EstimateRequest(Mix((part("no-such-stuff", 1.0),), 1.0), FIRED),
    lid(measured=Measured(bulk_density=1100.0)),
    EstimateRequest(Mix((part("cac-40", 1.0),), 0.0), FIRED),
)


@pytest.fixture
def many(database, reference):
    def run(requests):
        with database.read() as connection:
            return estimate_many(connection, reference, requests)

    return run


def test_numbers_are_those_of_single_estimates(many, ask):
    found = many(REQUESTS)
    for request, answer in zip(REQUESTS, found, strict=True):
        if isinstance(answer, Estimate):
            assert answer == ask(request)
    assert [type(answer) for answer in found] == [Estimate, Estimate, MixError, Estimate, MixError]


def test_faults_keep_their_place_and_pointer(many):
    found = many(REQUESTS)
    assert found[2].pointer == "#/mix/constituents/0/material"
    assert found[4].pointer == "#/mix/water"


def test_all_inputs_come_in_one_statement(database, many, statements):
    held.forget()
    service.forget()
    nearest.forget()
    materials = ("expanded-clay", "quartz-sand", "chamotte", "pumice")
    requests = [
        EstimateRequest(Mix((part("cac-40", 10.0), part(name, 10.0)), 4.0), FIRED)
        for name in materials
    ]
    with statements(database) as counted:
        many(requests)
    assert len(counted) <= 5  # inputs, limits, and the bodies with their recipes and values


def test_too_many_are_refused(many):
    with pytest.raises(MixError):
        many([lid()] * (MAX_BATCH + 1))


def test_an_empty_batch_is_empty(many):
    assert many([]) == []
