"""The influence of one cause as a picture: port by port, phase by phase, down to what shows at the machine."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from clampgraph.drawing.outline import Entry, Key, Picture, outline

__all__ = ["Station", "Trail", "influence"]


@dataclass(frozen=True, slots=True)
class Station:
    """One step of a trail: what deviates where, in which phase, and how surely the step before leads to it.

    `place` is empty for a cause or a symptom; `ports` are those that the same deviation passes at one position.
    """

    node: str
    place: str
    ports: tuple[str, ...]
    words: str
    phase: str
    strength: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Trail:
    """The most probable path from the cause to one symptom, and how probable it is that influence runs along it."""

    symptom: str
    stations: tuple[Station, ...]
    strength: float


@dataclass
class _Branch:
    station: Station
    onward: dict[str, "_Branch"] = field(default_factory=dict)
    ends: float | None = None


def influence(title: str, unit: str, phases: Sequence[str], trails: Sequence[Trail], name: str = "") -> str:
    """Draw the trails of one cause as SVG; what they share is drawn once.

    Parameters
    ----------
    title
        The cause, in words.
    unit
        The assembly and generation.
    phases
        The phases of its cycle, in order, as the stations name them.
    trails
        One for each symptom; they begin at the same cause.
    name
        Stem of its identifiers in a page.
    """
    root = _Branch(trails[0].stations[0])
    for trail in trails:
        here = root
        for station in trail.stations[1:]:
            here = here.onward.setdefault(station.node, _Branch(station))
        here.ends = trail.strength
    sources: dict[str, int] = {}
    entries: list[Entry] = []
    _grow(root, None, _Growth(entries, sources, list(phases)))
    shown = [f"{t.symptom} ({t.strength:.2g}): " + "; ".join(_words(t)) for t in trails]
    return outline(Picture(title, unit, ". ".join(shown) + ".", tuple(entries), tuple(_legend(sources)), name))


@dataclass(frozen=True, slots=True)
class _Growth:
    entries: list[Entry]
    sources: dict[str, int]
    phases: list[str]


def _grow(branch: _Branch, parent: int | None, growth: _Growth, band: str = "") -> None:
    """Write a branch and what hangs from it; steps of one deviation within one position are one row."""
    station = branch.station
    while branch.ends is None and len(branch.onward) == 1 and station.place:
        (following,) = branch.onward.values()
        if (following.station.place, following.station.words, following.station.phase) != (
            station.place, station.words, station.phase,
        ):  # fmt: skip
            break
        branch = following
        station = replace(
            station,
            ports=(*station.ports, *following.station.ports),
            strength=station.strength * following.station.strength,
            source=station.source or following.station.source,
        )
    band = station.phase or band or _first_phase(branch)
    growth.entries.append(_entry(growth, station, parent, band, branch.ends))
    own = len(growth.entries) - 1
    for onward in sorted(branch.onward.values(), key=lambda b: _order(b, band, growth.phases)):
        _grow(onward, own, growth, band)


def _first_phase(branch: _Branch) -> str:
    return next((b.station.phase for b in branch.onward.values() if b.station.phase), "")


def _order(branch: _Branch, band: str, phases: Sequence[str]) -> tuple[bool, int, float, str]:
    """Stay in the phase first, then follow the cycle; the surest first."""
    phase = branch.station.phase or band
    place = phases.index(phase) if phase in phases else len(phases)
    return phase != band, place, -branch.station.strength, branch.station.node


def _entry(growth: _Growth, station: Station, parent: int | None, band: str, ends: float | None) -> Entry:
    sources, first = growth.sources, parent is None
    cited = f" [{sources.setdefault(station.source, len(sources) + 1)}]" if station.source else ""
    figure = "" if first else f"{station.strength:.2g}"
    if ends is not None:
        return Entry(parent, station.words + cited, f"{ends:.2g} along this path", (), figure, "end", band)
    if not station.place:
        return Entry(parent, station.words + cited, "", (), figure, "start" if first else "step", band)
    ports = f"{'port' if len(station.ports) == 1 else 'ports'} {' → '.join(station.ports)}"
    return Entry(parent, station.place, f"{ports}: {station.words}{cited}", (), figure, "step", band)


def _words(trail: Trail) -> Iterator[str]:
    for station in trail.stations:
        where = f"{station.phase}: {station.place} port {station.ports[0]}, " if station.place else ""
        yield f"{where}{station.words} ({station.strength:.2g})"


def _legend(sources: dict[str, int]) -> Iterator[Key]:
    yield Key("start", "the cause")
    yield Key("step", "position and ports at which something deviates, and how it deviates")
    yield Key("end", "what shows at the machine")
    yield Key("0.95", "probability that the step before leads to this one; a line across the picture is a new phase")
    for source, number in sources.items():
        yield Key(f"[{number}]", f"source of the strength: {source}")
