"""What is known of items and joints, read once for each library."""

from collections import defaultdict
from datetime import date
from weakref import WeakKeyDictionary

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Value
from clampgraph.assembly.topology import Assembly, Generation
from clampgraph.errors import UnknownNameError, WrongCallError
from clampgraph.replacement.facts import Catalogue, Feature, Item, Site
from clampgraph.replacement.reading import read_catalogue
from clampgraph.replacement.site import read_site

__all__ = ["Workshop", "generations_for", "position_in", "told", "workshop"]

_OPEN: WeakKeyDictionary[Library, "Workshop"] = WeakKeyDictionary()


def workshop(library: Library) -> "Workshop":
    """Return the workshop of a library, opened when first asked for."""
    if library not in _OPEN:
        _OPEN[library] = Workshop(library)
    return _OPEN[library]


def told(feature: Feature | None) -> Value | str | None:
    """Return a feature as answers tell it: a word, or a value with its unit."""
    if feature is None or isinstance(feature.value, str):
        return None if feature is None else str(feature.value)
    return Value(value=feature.value, unit=feature.unit)


class Workshop:
    """Items and interfaces of the loaded packs, and every assembly generation as replacement sees it."""

    def __init__(self, library: Library) -> None:
        self._ask = library.graph.ask
        self.catalogue: Catalogue = read_catalogue(self._ask, library.knowledge)
        self.lineages = {n: t.lineage for n, t in library.knowledge.types.items()}
        self._sites: dict[str, Site] = {}
        self._superseding: dict[str, list[str]] = defaultdict(list)
        for mpn, item in sorted(self.catalogue.items.items()):
            for older in item.replaces:
                self._superseding[older].append(mpn)

    def superseding(self, mpn: str) -> tuple[str, ...]:
        """Return the numbers of the items that supersede one."""
        return tuple(self._superseding.get(mpn, ()))

    def item(self, mpn: str) -> Item:
        """Return an item by its number.

        Raises
        ------
        UnknownNameError
            If nothing is ordered by that number; names the nearest.
        """
        known = self.catalogue.items
        if mpn not in known:
            raise UnknownNameError("item", mpn, nearest(mpn, known))
        return known[mpn]

    def site(self, assembly: Assembly) -> Site:
        """Return one generation of an assembly with its requirements and joints, read once."""
        key = assembly.generation.iri
        if key not in self._sites:
            self._sites[key] = read_site(self._ask, self.catalogue, assembly)
        return self._sites[key]


def position_in(assembly: Assembly, position: str) -> str:
    """Return a position of an assembly.

    Raises
    ------
    UnknownNameError
        If the assembly lacks it; names the nearest.
    """
    if position not in assembly.positions:
        raise UnknownNameError("position", position, nearest(position, assembly.positions), f"in {assembly.id}")
    return position


def generations_for(
    assembly: Assembly, generation: str | None, build_date: date | None, serial: int | None
) -> tuple[str, ...]:
    """Return the generations that a name, a build date and a serial number leave.

    Raises
    ------
    UnknownNameError
        If there is no generation of that name.
    WrongCallError
        If none was built on that date or with that serial number, or the two contradict each other.
    """
    known = {g.id: g for g in assembly.generations}
    if generation is not None and generation not in known:
        raise UnknownNameError("generation", generation, nearest(generation, known), f"of {assembly.id}")
    left = tuple(
        g.id
        for g in assembly.generations
        if (generation is None or g.id == generation) and _built(g, build_date) and _numbered(g, serial)
    )
    if not left:
        asked = [f"generation {generation}"] if generation is not None else []
        asked += [f"build date {build_date}"] if build_date is not None else []
        asked += [f"serial number {serial}"] if serial is not None else []
        ranges = "; ".join(_range(g) for g in assembly.generations)
        raise WrongCallError(f"No {assembly.id} has {' and '.join(asked)}; there are {ranges}.")
    return left


def _built(generation: Generation, when: date | None) -> bool:
    return when is None or (
        (generation.built_from is None or generation.built_from <= when)
        and (generation.built_until is None or when <= generation.built_until)
    )


def _numbered(generation: Generation, serial: int | None) -> bool:
    return serial is None or (
        (generation.serial_from is None or generation.serial_from <= serial)
        and (generation.serial_until is None or serial <= generation.serial_until)
    )


def _range(generation: Generation) -> str:
    return (
        f"{generation.id} built {generation.built_from or '…'} to {generation.built_until or 'today'}, "
        f"serial {generation.serial_from or '…'} to {generation.serial_until or '…'}"
    )
