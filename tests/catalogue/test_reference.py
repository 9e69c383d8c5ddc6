"""The small tables every answer needs: read once a revision, shared, dated."""

from __future__ import annotations

import pytest

from hotface_api.catalogue.reference import ReferenceCache, RevisionUnknownError


def test_a_revision_is_read_once_and_shared(database, statements):
    cache = ReferenceCache(database)
    first = cache.latest()
    with statements(database) as counted:
        again = cache.latest()
    assert again is first
    assert len(counted) <= 1  # the revision probe


def test_a_revision_that_is_not_there_is_refused(database):
    cache = ReferenceCache(database)
    latest = cache.latest().revision
    for asked in (0, -1, latest + 1):
        with pytest.raises(RevisionUnknownError) as caught:
            cache.at(asked)
        assert caught.value.asked == asked
        assert caught.value.latest == latest
        assert str(latest) in str(caught.value)


def test_families_and_grades(reference):
    assert reference.family_of("cac-40") == "calcium-aluminate-cement"
    assert {"cac-50", "cac-70", "cac-80"} <= set(reference.grades("cac-40"))
    assert "cac-40" not in reference.grades("cac-40")
    assert reference.grades("pumice") == ()
    assert reference.family_of(None) is None
    assert reference.family_of("unheard-of") is None


def test_ids_come_in_byte_order(reference):
    for table in (reference.materials, reference.properties, reference.origins):
        assert list(table) == sorted(table)
