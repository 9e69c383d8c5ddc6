"""Counts and durations in the Prometheus text form. Each worker tells its own."""

from __future__ import annotations

import threading
from bisect import bisect_left
from typing import Final

__all__ = ["MEDIA_TYPE", "Metrics"]

MEDIA_TYPE: Final = "text/plain; version=0.0.4; charset=utf-8"
_EDGES: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)


class Metrics:
    """Counts requests by route, method and status, and their durations by route."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._requests: dict[tuple[str, str, int], int] = {}
        self._counts: dict[str, list[int]] = {}
        self._seconds: dict[str, float] = {}

    def observe(self, route: str, method: str, status: int, seconds: float) -> None:
        """Count one request. ``route`` is the rule, never the path: paths have no end."""
        key = (route, method, status)
        with self._lock:
            self._requests[key] = self._requests.get(key, 0) + 1
            counts = self._counts.setdefault(route, [0] * (len(_EDGES) + 1))
            counts[bisect_left(_EDGES, seconds)] += 1
            self._seconds[route] = self._seconds.get(route, 0.0) + seconds

    def text(self, revision: int | None, kept: int, failures: int | None = None) -> str:
        """Write everything counted, the revision served and the number of answers kept.

        ``failures`` is how often the store of the rate limits failed, where there are limits.
        """
        lines = [
            "# HELP hotface_requests_total Requests answered by this worker.",
            "# TYPE hotface_requests_total counter",
        ]
        with self._lock:
            lines += [
                f'hotface_requests_total{{route="{route}",method="{method}",status="{status}"}} {n}'
                for (route, method, status), n in sorted(self._requests.items())
            ]
            lines += [
                "# HELP hotface_request_seconds How long this worker took to answer.",
                "# TYPE hotface_request_seconds histogram",
            ]
            for route in sorted(self._counts):
                lines += self._histogram(route)
        lines += [
            "# HELP hotface_answers_kept Rendered answers this worker holds in memory.",
            "# TYPE hotface_answers_kept gauge",
            f"hotface_answers_kept {kept}",
        ]
        if failures is not None:
            lines += [
                "# HELP hotface_rate_store_failures_total Requests let through uncounted.",
                "# TYPE hotface_rate_store_failures_total counter",
                f"hotface_rate_store_failures_total {failures}",
            ]
        if revision is not None:
            lines += [
                "# HELP hotface_revision Latest revision of the data.",
                "# TYPE hotface_revision gauge",
                f"hotface_revision {revision}",
            ]
        return "\n".join(lines) + "\n"

    def _histogram(self, route: str) -> list[str]:
        name, total, lines = "hotface_request_seconds", 0, []
        for edge, count in zip((*map(str, _EDGES), "+Inf"), self._counts[route], strict=True):
            total += count
            lines.append(f'{name}_bucket{{route="{route}",le="{edge}"}} {total}')
        lines.append(f'{name}_sum{{route="{route}"}} {self._seconds[route]:.6f}')
        lines.append(f'{name}_count{{route="{route}"}} {total}')
        return lines
