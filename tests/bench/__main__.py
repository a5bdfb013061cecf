"""Speed against named peers: ``python -m tests.bench [name ...] [--json F]`` runs all benches, or those named.

Options after the only name go to that bench: ``python -m tests.bench service --minutes 10``.

A bench is a module beside this one with a function `report`, which yields lines to print and figures (`figures`).
Figures stand in a table at the end, and in the JSON file with the machine they were measured on.
"""

import json
import os
import platform
import sys
from datetime import UTC, datetime
from pathlib import Path

from tests.bench import diagnosis, fleet, inference, replacement, service, start, store, stroke, tables, tracing
from tests.bench.figures import Figure

BENCHES = {
    "diagnosis": diagnosis,
    "fleet": fleet,
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
    target = None
    if "--json" in words:
        at = words.index("--json")
        target, words = Path(words[at + 1]), words[:at] + words[at + 2 :]
    names, options = words, []
    if len(words) > 1 and words[1].startswith("--"):
        names, options = words[:1], words[1:]
    unknown = [name for name in names if name not in BENCHES]
    if unknown:
        sys.exit(f"There is no bench {', '.join(unknown)}; there are: {', '.join(BENCHES)}.")
    figures = []
    for name in names or BENCHES:
        for line in BENCHES[name].report(*options):
            print(line, flush=True)  # noqa: T201 - the report is the product
            if isinstance(line, Figure):
                figures.append(line)
    for line in _table(figures):
        print(line)  # noqa: T201 - the report is the product
    if target is not None:
        target.write_text(json.dumps(_told(figures), indent=1), "utf-8")


def _table(figures):
    if figures:
        yield "\n| Figure | Median | Quartiles | Asked | Reached |\n|---|---|---|---|---|"
    for figure in figures:
        asked = "" if figure.target is None else f"{figure.target[0]} {figure.target[1]:g}"
        reached = {None: "", True: "yes", False: "NO"}[figure.reached]
        spread = f"{figure.low:,.4g} to {figure.high:,.4g}"
        yield f"| {figure.name} | {figure.median:,.4g} {figure.unit} | {spread} | {asked} | {reached} |"


def _told(figures):
    return {
        "date": datetime.now(UTC).date().isoformat(),
        "machine": {"processor": platform.machine(), "cores": os.cpu_count(), "python": platform.python_version()},
        "figures": [figure.plain() for figure in figures],
    }


if __name__ == "__main__":
    main(sys.argv[1:])
