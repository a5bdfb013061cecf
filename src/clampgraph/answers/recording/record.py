"""Record what it really was: every name is checked against the graph before anything is kept."""

from uuid import uuid4

from clampgraph.answers.diagnosing.evidence import check_ages, evidence_of
from clampgraph.answers.library import Library, nearest
from clampgraph.answers.recording.cases import CaseOut, RecordRequest, case_out
from clampgraph.assembly import Assembly
from clampgraph.cases.records import Findings, NewCase
from clampgraph.cases.store import CaseStore
from clampgraph.errors import UnknownNameError, WrongCallError

__all__ = ["record"]


def record(library: Library, store: CaseStore, request: RecordRequest) -> CaseOut:
    """Keep a closed job; when this returns, it is on the disk, once for each key.

    Raises
    ------
    UnknownNameError
        If an assembly, symptom, check, outcome, position, failure mode, item or the corrected case is not known.
    WrongCallError
        If the findings contradict each other, a cause is not written as POSITION:MODE, the key was used for another
        case, or the corrected case is corrected already.
    QuantityError
        If an age is negative or not a number.
    StoreError
        If the case store is down or full.
    """
    assembly = library.assembly(request.assembly, request.generation)
    told = request.evidence
    check_ages(assembly, told.ages)
    evidence_of(library, assembly, library.network(assembly), told)
    for cause in request.found:
        _check_cause(assembly, cause)
    _check_items(library, request)
    case = NewCase(
        assembly=assembly.id,
        generation=assembly.generation.id,
        findings=Findings(told.seen, told.unseen, dict(told.readings), dict(told.ages), dict(told.conditions)),
        found=request.found,
        replaced=dict(request.replaced),
        minutes=request.minutes,
        note=request.note,
        author=request.author,
        corrects=request.corrects,
    )
    return case_out(store.record(case, request.key or uuid4().hex))


def _check_cause(assembly: Assembly, cause: str) -> None:
    position, colon, mode = cause.partition(":")
    if not colon:
        raise WrongCallError(f"'{cause}' is no cause; write POSITION:MODE, or the word nothing.")
    if position not in assembly.positions:
        raise UnknownNameError("position", position, nearest(position, assembly.positions), f"in {assembly.id}")
    known = assembly.positions[position].type.modes
    if mode not in known:
        raise UnknownNameError("failure mode", mode, nearest(mode, known), f"of {position}")


def _check_items(library: Library, request: RecordRequest) -> None:
    if request.replaced:
        known = [str(row["mpn"]) for row in library.graph.ask("replacement/list-items")]
        for mpn in request.replaced:
            if mpn not in known:
                raise UnknownNameError("item", mpn, nearest(mpn, known))
