"""What can be counted, as Prometheus reads it."""

import os
from typing import Any

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, disable_created_metrics, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector, mark_process_dead

__all__ = ["CONTENT_TYPE", "Metrics", "forget_worker"]

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"
SECONDS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)
"""Upper bounds of the histogram's classes [s]."""


class Metrics:
    """The instruments of one application; with several workers their values are summed over the workers."""

    def __init__(self) -> None:
        # It would be one more series for each, of when that began.
        disable_created_metrics()  # type: ignore[no-untyped-call]  # the library does not type it
        self.registry = CollectorRegistry()
        self._requests = Counter(
            "clampgraph_requests", "Requests answered.", ("method", "route", "status"), registry=self.registry
        )
        self._seconds = Histogram(
            "clampgraph_request_seconds", "Time to the end of the answer.", ("method", "route"),
            buckets=SECONDS, registry=self.registry,
        )  # fmt: skip
        self.remembered = Counter(
            "clampgraph_remembered", "Questions by how they were answered.", ("how",), registry=self.registry
        )
        self.reloads = Counter(
            "clampgraph_reloads", "Attempts to load by how they ended.", ("result",), registry=self.registry
        )
        self.queue = Gauge("clampgraph_queue", "Questions that wait for a thread.", registry=self.registry,
                           multiprocess_mode="livesum")  # fmt: skip
        self.kept = Gauge("clampgraph_kept_bytes", "Finished answers in memory.", registry=self.registry,
                          multiprocess_mode="livesum")  # fmt: skip
        self._triples = Gauge("clampgraph_triples", "Statements loaded.", registry=self.registry,
                             multiprocess_mode="mostrecent")  # fmt: skip
        self._edition = Gauge("clampgraph_edition", "1 for the edition that answers.", ("edition",),
                             registry=self.registry, multiprocess_mode="mostrecent")  # fmt: skip
        self._told = ""
        self._known: dict[tuple[str, str, int], tuple[Any, Any]] = {}

    def loaded(self, edition: str, triples: int) -> None:
        """Tell which edition answers from now on, and how large it is."""
        if self._told:
            self._edition.labels(self._told).set(0)
        self._told = edition
        self._edition.labels(edition).set(1)
        self._triples.set(triples)

    def request(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one request."""
        key = method, route, status
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = (
                self._requests.labels(method, route, str(status)).inc,
                self._seconds.labels(method, route).observe,
            )
        found[0]()
        found[1](seconds)

    def text(self) -> bytes:
        """Return everything in the text format."""
        if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
            return generate_latest(self.registry)
        summed = CollectorRegistry()
        MultiProcessCollector(summed)  # type: ignore[no-untyped-call]  # as above
        return generate_latest(summed)


def forget_worker(pid: int | None) -> None:
    """Take a worker that died out of the sums of what is held now; what it counted stays counted."""
    mark_process_dead(pid)  # type: ignore[no-untyped-call]  # as above
