"""Routes that change what is loaded: a pack sent here, or the packs read again. For administrators."""

import asyncio
import os
import re
import secrets
import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from clampgraph.answers.problems import ProblemOut, problem_of
from clampgraph.api.keeping import BrokenPackError, Keeper
from clampgraph.api.problems import MEDIA, problem
from clampgraph.errors import DataError, WrongCallError

__all__ = ["LoadedAnswer", "router"]

router = APIRouter()

SUFFIXES = {
    "text/turtle": ".ttl",
    "application/n-triples": ".nt",
    "application/n-quads": ".nq",
    "application/trig": ".trig",
}
"""The types of body that are packs; no other is parsed, for others can make a parser open files and sockets."""

_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,63}", re.ASCII)


class LoadedAnswer(BaseModel):
    """What is loaded now."""

    edition: str = Field(description="Name of the edition that answers from now on.")
    triples: int = Field(description="Statements in it.")
    changed: bool = Field(description="Whether it is another one than before.")
    pack: str | None = Field(None, description="File that the uploaded pack is kept in.")


@router.post("/reload", response_model=LoadedAnswer, summary="Read the packs again")
async def post_reload(request: Request) -> Response:
    """Check and load the packs as they lie there now; requests that run finish on the old ones."""
    keeper: Keeper = request.app.state.keeper
    try:
        changed = await keeper.reload()
    except BrokenPackError as error:
        return _broken(error)
    return _loaded(keeper, 200, changed=changed)


_BODY = {"required": True, "content": {kind: {"schema": {"type": "string"}} for kind in SUFFIXES}}


@router.post(
    "/packs",
    response_model=LoadedAnswer,
    status_code=201,
    summary="Send a pack",
    openapi_extra={"requestBody": _BODY},
)
async def post_pack(
    request: Request, name: Annotated[str, Query(description="Under this name; one of the same name is replaced.")]
) -> Response:
    """Check a pack amid what is loaded, keep it in the folder of uploads, and answer from it."""
    keeper: Keeper = request.app.state.keeper
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if keeper.uploads is None:
        return problem(409, "This service keeps no uploaded packs: start it with --uploads FOLDER.")
    if kind not in SUFFIXES:
        return problem(415, f"A pack is not sent as '{kind}'; send one of {', '.join(SUFFIXES)}.")
    if _NAME.fullmatch(name) is None:
        raise WrongCallError(f"'{name}' cannot name a pack: write small letters, digits and '-', at most 64.")
    content = await request.body()
    try:
        async with keeper.lock:
            changed = await _take_in(keeper, name + SUFFIXES[kind], content)
    except BrokenPackError as error:
        return _broken(error)
    return _loaded(keeper, 201, changed=changed, pack=name + SUFFIXES[kind])


async def _take_in(keeper: Keeper, file: str, content: bytes) -> bool:
    """Check a pack away from the folder, put it there, and load; put back what was there if that fails."""
    folder = keeper.uploads
    if folder is None:
        raise DataError("This service keeps no uploaded packs.")
    name = file.partition(".")[0]
    with tempfile.TemporaryDirectory(prefix="clampgraph-") as away:
        fresh = Path(away) / file
        await asyncio.to_thread(fresh.write_bytes, content)
        others = await asyncio.to_thread(keeper.given_but, name)
        await keeper.check((fresh, *others))
    before = await asyncio.to_thread(_put, folder, file, content)
    try:
        return await keeper.reload_held(checked=True)
    except BaseException:
        (folder / file).unlink(missing_ok=True)
        for path, old in before.items():
            _write(path, old)
        raise


def _put(folder: Path, file: str, content: bytes) -> dict[Path, bytes]:
    """Write a pack whole or not at all; return what it replaces, under whatever suffix."""
    name = file.partition(".")[0]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        places = (folder / (name + suffix) for suffix in SUFFIXES.values())
        before = {path: path.read_bytes() for path in places if path.is_file()}
        _write(folder / file, content)
        for path in before:
            if path.name != file:
                path.unlink()
    except OSError as error:
        raise DataError(f"The pack cannot be kept in {folder}: {error.strerror}.") from error
    return before


def _write(path: Path, content: bytes) -> None:
    part = path.with_name(f"{path.name}.{secrets.token_hex(4)}.part")
    with part.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def _loaded(keeper: Keeper, status: int, *, changed: bool, pack: str | None = None) -> Response:
    if keeper.held is None:
        return problem(503, "Nothing is loaded yet.", {"retry-after": "1"})
    held = keeper.held
    answer = LoadedAnswer(edition=held.edition, triples=len(held.library.graph), changed=changed, pack=pack)
    return Response(answer.model_dump_json(), status, media_type="application/json")


def _broken(error: BrokenPackError) -> Response:
    told = problem_of(error).model_dump() | {"findings": error.findings}
    return Response(ProblemOut.model_validate(told).model_dump_json(), error.http_status, media_type=MEDIA)
