"""The reference and a short way to an estimate, on the loaded seed."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.reference import ReferenceCache
from hotface_api.mixes.estimate import estimate


@pytest.fixture
def reference(database):
    return ReferenceCache(database).latest()


@pytest.fixture
def ask(database, reference):
    def run(request):
        with database.read() as connection:
            return estimate(connection, reference, request)

    return run
