"""Data frames, for whoever has pandas."""

from __future__ import annotations

import importlib
from collections.abc import Mapping, Sequence
from typing import Any

from hotface._errors import NotInstalled

__all__ = ["data_frame", "load_pandas"]


def load_pandas() -> Any:
    """Load pandas.

    Raises
    ------
    NotInstalled
        If pandas is not installed.
    """
    try:
        return importlib.import_module("pandas")
    except ImportError as error:
        raise NotInstalled("a data frame needs pandas: pip install pandas") from error


def data_frame(rows: Sequence[Mapping[str, Any]]) -> Any:
    """Make a pandas data frame of rows.

    Raises
    ------
    NotInstalled
        If pandas is not installed.
    """
    return load_pandas().DataFrame(list(rows))
