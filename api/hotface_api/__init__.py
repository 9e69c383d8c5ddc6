"""The hotface service: refractory properties with their sources, over HTTP."""

from importlib.metadata import PackageNotFoundError, version

__all__ = ["__version__"]

try:
    __version__ = version("hotface")
except PackageNotFoundError:  # pragma: no cover - only from a tree that was never installed
    __version__ = "0+unknown"
