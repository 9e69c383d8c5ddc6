"""Statements of practice: as held, with their source, and read once a revision."""

from __future__ import annotations

from hotface_api.catalogue.practice import forget, practice
from hotface_api.catalogue.reference import ReferenceCache


def test_statements_are_read_once_and_cite_their_source(database, statements):
    reference = ReferenceCache(database).latest()
    forget()
    with database.read() as connection, statements(database) as counted:
        found = practice(connection, reference)
        again = practice(connection, reference)
    assert again is found
    assert len(counted) == 1
    assert len(found) > 100
    for key, row in found.items():
        assert key == row["id"]
        assert row["statement"]
        if row["basis"] == "read":
            assert row["source"]
            assert row["locator"]
