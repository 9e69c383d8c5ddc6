"""Pages of the whole seed, asked for the way a browser asks."""

from __future__ import annotations

import pytest

from support.pages import BROWSER, Shown


@pytest.fixture
def show(client):
    """Ask for a page and parse it."""
    return lambda address, **headers: Shown(client.get(address, headers={**BROWSER, **headers}))
