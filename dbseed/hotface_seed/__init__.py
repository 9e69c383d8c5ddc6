"""The published data of hotface as a Data Package, and the path to it."""

from pathlib import Path

__all__ = ["PACKAGE_PATH"]

PACKAGE_PATH = Path(__file__).resolve().parent / "datapackage.json"
