"""What is kept: cases in order, one case, and a person's cases, which can be forgotten."""

from pydantic import Field

from clampgraph.answers.library import Library, nearest
from clampgraph.answers.models import Answer
from clampgraph.answers.recording.cases import CaseOut, CasesAnswer, CasesRequest, case_out
from clampgraph.cases.store import CaseStore
from clampgraph.errors import UnknownNameError

__all__ = ["ForgottenAnswer", "cases", "forget", "one_case"]


class ForgottenAnswer(Answer):
    """What was erased."""

    forgotten: int = Field(description="Cases that are now kept under no name and without free text.")


def cases(library: Library, store: CaseStore, request: CasesRequest) -> CasesAnswer:
    """List cases in the order in which they were recorded.

    Raises
    ------
    UnknownNameError
        If there is no such assembly, neither in the packs nor in the store; names the nearest.
    StoreError
        If the case store is down.
    """
    found = store.cases(request.assembly, request.author, after=request.after, limit=request.limit + 1)
    if not found and request.assembly is not None and request.assembly not in library.assemblies:
        raise UnknownNameError("assembly", request.assembly, nearest(request.assembly, library.assemblies))
    told = tuple(case_out(case) for case in found[: request.limit])
    return CasesAnswer(cases=told, after=told[-1].id if len(found) > request.limit else None)


def one_case(store: CaseStore, number: int) -> CaseOut:
    """Tell one case.

    Raises
    ------
    UnknownNameError
        If there is no case of that number.
    StoreError
        If the case store is down.
    """
    return case_out(store.case(number))


def forget(store: CaseStore, author: str) -> ForgottenAnswer:
    """Erase an author and their free text; the technical facts stay, under no name.

    Raises
    ------
    UnknownNameError
        If no case is kept under that name; other people's names are not told.
    StoreError
        If the case store is down.
    """
    count = store.forget(author)
    if not count:
        raise UnknownNameError("author", author, place="in the case store")
    return ForgottenAnswer(forgotten=count)
