"""Counts and times of requests, in the OpenMetrics text format.

References
----------
OpenMetrics 1.0, text format (from memory): one family after another, ``_total`` and ``_bucket`` endings,
``# EOF`` as the last line.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from threading import Lock

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
_EDGES = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)


class Metrics:
    """What a server counts: requests by route and answer, and how long they took."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._requests: Counter[tuple[str, str, int]] = Counter()
        self._buckets: Counter[tuple[str, float]] = Counter()
        self._seconds: defaultdict[str, float] = defaultdict(float)
        self._begun = time.time()

    def add(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one request.

        Parameters
        ----------
        method, route : str
            The route with its names in braces, so that there are never more than there are routes.
        status : int
            Of the answer.
        seconds : float
            How long it took.
        """
        with self._lock:
            self._requests[method, route, status] += 1
            self._seconds[route] += seconds
            for edge in _EDGES:
                if seconds <= edge:
                    self._buckets[route, edge] += 1
            self._buckets[route, float("inf")] += 1

    def text(self, version: str) -> str:
        """Return all of it in the text format.

        Parameters
        ----------
        version : str
            Of Soakage.
        """
        with self._lock:
            lines = [
                "# TYPE soakage_build info",
                f'soakage_build_info{{version="{_escaped(version)}"}} 1',
                "# TYPE soakage_start_time_seconds gauge",
                "# UNIT soakage_start_time_seconds seconds",
                f"soakage_start_time_seconds {self._begun:.3f}",
                "# TYPE soakage_requests counter",
                "# HELP soakage_requests Answered requests.",
            ]
            for (method, route, status), count in sorted(self._requests.items()):
                labels = f'method="{_escaped(method)}",route="{_escaped(route)}",status="{status}"'
                lines.append(f"soakage_requests_total{{{labels}}} {count}")
            lines += [
                "# TYPE soakage_request_seconds histogram",
                "# UNIT soakage_request_seconds seconds",
                "# HELP soakage_request_seconds Server time of requests.",
            ]
            for route in sorted(self._seconds):
                label = f'route="{_escaped(route)}"'
                for edge in (*_EDGES, float("inf")):
                    shown = "+Inf" if edge == float("inf") else f"{edge}"
                    count = self._buckets[route, edge]
                    lines.append(f'soakage_request_seconds_bucket{{{label},le="{shown}"}} {count}')
                lines.append(f"soakage_request_seconds_sum{{{label}}} {self._seconds[route]:.6f}")
                total = self._buckets[route, float("inf")]
                lines.append(f"soakage_request_seconds_count{{{label}}} {total}")
        return "\n".join([*lines, "# EOF", ""])


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
