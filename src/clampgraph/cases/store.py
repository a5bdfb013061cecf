"""Keep closed jobs: append, read, and forget a person."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from threading import Lock
from typing import Any

from sqlalchemy import Connection, Engine, Row, func, select, text, update

from clampgraph.cases.faults import telling_faults
from clampgraph.cases.held import Held
from clampgraph.cases.opening import WRITING, address_of, engine_for, prepare, take_turn
from clampgraph.cases.records import Case, Exposure, Findings, NewCase
from clampgraph.cases.schema import CASES, EXPOSURES
from clampgraph.errors import UnknownNameError, WrongCallError

__all__ = ["CaseStore"]

LATELY, REST = 1.0, 2.0
"""How long nobody asks again whether another process has recorded something, or whether a store that was down is back
[s]."""

_LATER = CASES.alias("later")
_READ = select(CASES, _LATER.c.id.label("corrected_by")).outerjoin(_LATER, _LATER.c.corrects == CASES.c.id)


class CaseStore:
    """A case store, opened at first use and again whenever it comes back.

    Parameters
    ----------
    location
        A path, or the URL of a PostgreSQL database; the user's folder for data if empty.

    Raises
    ------
    WrongCallError
        If the location is neither.
    StoreError
        From every method, if the database does not answer, is full, or cannot be used.

    Attributes
    ----------
    lately
        `version` as it was a moment ago, but never older than what was recorded through this very object.
    """

    def __init__(self, location: str = "") -> None:
        self._url = address_of(location)
        self.place = (self._url.database or "") if self._url.drivername == "sqlite" else self._url.render_as_string()
        self._engine: Engine | None = None
        self._lock = Lock()
        self.lately = Held(self.version, (LATELY, REST))

    @property
    def opened(self) -> bool:
        """Whether the store has answered since it was made, or was closed."""
        return self._engine is not None

    def close(self) -> None:
        """Let go of all connections; the next use opens them again."""
        with self._lock:
            if self._engine is not None:
                self._engine.dispose()
            self._engine = None

    def record(self, case: NewCase, key: str) -> Case:
        """Keep a case, once for each key however often it is sent; when this returns, it is on the disk.

        Raises
        ------
        WrongCallError
            If the key stands for another case already, or the case that this one corrects is corrected already.
        UnknownNameError
            If there is no case that this one could correct.
        """
        row = _row(case, key)
        with self._writing() as connection:
            kept = connection.execute(_READ.where(CASES.c.key_digest == row["key_digest"])).first()
            if kept is not None:
                if kept.content_digest not in ("", row["content_digest"]):
                    raise WrongCallError(
                        f"This key was used for case {kept.id}, which says something else: take a new one."
                    )
                return _case(kept)
            if case.corrects is not None:
                _check_corrects(connection, case.corrects)
            row["recorded"] = _now()
            number = connection.execute(CASES.insert().values(row).returning(CASES.c.id)).scalar_one()
        self.lately.forget()
        return Case(number, row["recorded"], case)

    def case(self, number: int) -> Case:
        """Return one case.

        Raises
        ------
        UnknownNameError
            If there is no case of that number.
        """
        with self._reading() as connection:
            found = connection.execute(_READ.where(CASES.c.id == number)).first()
        if found is None:
            raise UnknownNameError("case", str(number))
        return _case(found)

    def cases(
        self, assembly: str | None = None, author: str | None = None, *, after: int = 0, limit: int | None = None
    ) -> list[Case]:
        """Return cases in the order in which they were recorded, from the one behind `after` on."""
        wanted = _READ.where(CASES.c.id > after).order_by(CASES.c.id).limit(limit)
        if assembly is not None:
            wanted = wanted.where(CASES.c.assembly == assembly)
        if author is not None:
            wanted = wanted.where(CASES.c.author == author)
        with self._reading() as connection:
            return [_case(row) for row in connection.execute(wanted)]

    def state_exposure(self, assembly: str, years: float) -> Exposure:
        """Keep a statement of the machine-years [yr] behind the cases of an assembly; the newest one counts."""
        with self._writing() as connection:
            last = connection.execute(select(func.coalesce(func.max(CASES.c.id), 0))).scalar_one()
            row = {"recorded": _now(), "assembly": assembly, "years": years, "after": last}
            connection.execute(EXPOSURES.insert().values(row))
        self.lately.forget()
        return Exposure(assembly, years, row["recorded"], last)

    def exposures(self) -> list[Exposure]:
        """Return all statements of exposure, the newest last."""
        with self._reading() as connection:
            rows = connection.execute(select(EXPOSURES).order_by(EXPOSURES.c.id)).all()
        return [Exposure(row.assembly, row.years, row.recorded, row.after) for row in rows]

    def version(self) -> tuple[int, int]:
        """Return numbers that change whenever something was learned."""
        newest = (select(func.coalesce(func.max(table.c.id), 0)).scalar_subquery() for table in (CASES, EXPOSURES))
        with self._reading() as connection:
            cases, exposures = connection.execute(select(*newest)).one()
        return int(cases), int(exposures)

    def forget(self, author: str) -> int:
        """Erase an author and their free text everywhere; return how many cases are now under no name."""
        erased = update(CASES).where(CASES.c.author == author)
        with self._writing() as connection:
            count = connection.execute(erased.values(author=None, note=None, content_digest="")).rowcount
        if count:
            self._rewrite()
        return int(count)

    def _rewrite(self) -> None:
        """Leave no copy of what was erased behind: neither in the log of SQLite nor in PostgreSQL's dead rows."""
        with telling_faults(self.place), self._ready().connect() as connection:
            raw = connection.execution_options(isolation_level="AUTOCOMMIT")
            lite = connection.dialect.name == "sqlite"
            raw.execute(text("PRAGMA wal_checkpoint(TRUNCATE)" if lite else "VACUUM (FULL) cases"))

    def _ready(self) -> Engine:
        with self._lock:
            if self._engine is None:
                engine = engine_for(self._url)
                try:
                    prepare(engine, self.place)
                except BaseException:
                    engine.dispose()
                    raise
                self._engine = engine
            return self._engine

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with (
            telling_faults(self.place),
            self._ready().connect().execution_options(**WRITING) as connection,
            connection.begin(),
        ):
            take_turn(connection)
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with telling_faults(self.place), self._ready().connect() as connection:
            yield connection


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _text(content: object) -> str:
    return json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _digest(content: str) -> str:
    return hashlib.sha256(content.encode("utf-8", "surrogatepass")).hexdigest()


def _row(case: NewCase, key: str) -> dict[str, Any]:
    """Return the columns of a case; of the key only its digest is kept, for it may name a person."""
    row: dict[str, Any] = {
        "assembly": case.assembly,
        "generation": case.generation,
        "findings": _text(asdict(case.findings)),
        "found": _text(case.found),
        "replaced": _text(dict(case.replaced)),
        "minutes": case.minutes,
        "note": case.note,
        "author": case.author,
        "corrects": case.corrects,
    }
    return {**row, "content_digest": _digest(_text(row)), "key_digest": _digest(key)}


def _check_corrects(connection: Connection, number: int) -> None:
    old = connection.execute(_READ.where(CASES.c.id == number)).first()
    if old is None:
        raise UnknownNameError("case", str(number))
    if old.corrected_by is not None:
        raise WrongCallError(f"Case {number} is corrected by case {old.corrected_by} already: correct that one.")


def _case(row: Row[Any]) -> Case:
    told: Mapping[str, Any] = json.loads(row.findings)
    return Case(
        id=row.id,
        recorded=row.recorded,
        told=NewCase(
            assembly=row.assembly,
            generation=row.generation,
            findings=Findings(
                tuple(told["seen"]), tuple(told["unseen"]), told["readings"], told["ages"], told["conditions"]
            ),
            found=tuple(json.loads(row.found)),
            replaced=json.loads(row.replaced),
            minutes=row.minutes,
            note=row.note,
            author=row.author,
            corrects=row.corrects,
        ),
        corrected_by=row.corrected_by,
    )
