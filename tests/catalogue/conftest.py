"""The reference tables of the loaded seed, and made-up ones for the rules."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.reference import ReferenceCache
from support.catalogue_rows import made_up_reference


@pytest.fixture(scope="session")
def reference(database):
    return ReferenceCache(database).latest()


@pytest.fixture(scope="session")
def made_up():
    return made_up_reference()
