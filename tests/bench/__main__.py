"""Speed against named peers: ``python -m tests.bench [name ...]`` runs all benches, or those named.

Options after the only name go to that bench: ``python -m tests.bench service --minutes 10``.

A bench is a module beside this one with a function `report`, which yields the lines to print.
"""

import sys

from tests.bench import diagnosis, inference, replacement, service, start, store, stroke, tables, tracing

BENCHES = {
    "diagnosis": diagnosis,
    "inference": inference,
    "replacement": replacement,
    "service": service,
    "start": start,
    "store": store,
    "stroke": stroke,
    "tables": tables,
    "tracing": tracing,
}


def main(words):
    """Print the report of every bench asked for."""
    names, options = words, []
    if len(words) > 1 and words[1].startswith("--"):
        names, options = words[:1], words[1:]
    unknown = [name for name in names if name not in BENCHES]
    if unknown:
        sys.exit(f"There is no bench {', '.join(unknown)}; there are: {', '.join(BENCHES)}.")
    for name in names or BENCHES:
        for line in BENCHES[name].report(*options):
            print(line, flush=True)  # noqa: T201 - the report is the product


if __name__ == "__main__":
    main(sys.argv[1:])
