"""A migrated, empty database of each kind, and small packages to load into it."""

from __future__ import annotations

import pytest

from hotface_api.store import schema


@pytest.fixture
def migrated(empty_database):
    schema.migrate(empty_database)
    return empty_database
