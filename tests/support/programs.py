"""Programs a test needs and a newcomer may not have."""

from __future__ import annotations

import shutil

import pytest

from support.databases import REQUIRE_ALL


def need_program(name):
    """Skip, or fail under HOTFACE_REQUIRE_ALL=1, where a program is not installed."""
    if shutil.which(name):
        return
    message = f"NOT TESTED: the program {name} is not installed"
    if REQUIRE_ALL:
        pytest.fail(message)
    pytest.skip(message)
