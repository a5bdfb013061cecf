"""Open a case store: a file of its own, or a PostgreSQL database; made ready by whoever comes first.

What is acknowledged is on the disk: SQLite writes ahead (WAL) and waits for the disk at every commit
(``synchronous=FULL``), PostgreSQL is told ``synchronous_commit=on`` whatever its default.
Writers take turns, under ``BEGIN IMMEDIATE`` or an advisory lock, so that numbers are given in the order of commits
and two processes that start at once do not both migrate.
"""

import os
import sys
import time
from pathlib import Path
from threading import Lock
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError

from clampgraph.cases.schema import HEAD
from clampgraph.errors import StoreError, WrongCallError

__all__ = ["WRITING", "address_of", "default_file", "engine_for", "prepare", "take_turn"]

WAIT = 30.0
"""How long a writer waits for its turn [s]."""

WRITING = {"writes": True}
"""The execution option of a connection that will write."""

VANISHED = {"keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3, "tcp_user_timeout": 10_000}
"""How soon a host that vanished without a word is given up [s; the last in ms]; by itself it takes a quarter of an hour
(from memory)."""

_ALEMBIC = Lock()
"""Alembic keeps what it works on in its modules, so one process migrates one store at a time."""

_TURN = 5_208_173
"""The number of the advisory lock; any number will do, so long as all agree on it."""


def default_file() -> Path:
    """Return where cases are kept unless somebody says otherwise: the user's folder for data."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return base / "clampgraph" / "cases.sqlite"


def address_of(location: str) -> URL:
    """Read a path or a URL; `default` and the empty text mean the default file.

    Raises
    ------
    WrongCallError
        If it is neither a file nor a PostgreSQL database.
    """
    if "://" not in location:
        file = default_file() if location in ("", "default") else Path(location)
        return URL.create("sqlite", database=str(file))
    try:
        url = make_url(location)
    except (ArgumentError, ValueError):
        # What caused it would tell the password.
        raise WrongCallError("The case store is no URL; write postgresql://user@host/database, or a path.") from None
    kind = url.drivername.partition("+")[0]
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database:
        return url.set(drivername="sqlite")
    raise WrongCallError(f"The case store is of the kind '{kind}'; write a path, or postgresql://user@host/database.")


def engine_for(url: URL) -> Engine:
    """Return an engine that keeps the promises above.

    Raises
    ------
    StoreError
        If the driver for PostgreSQL is not installed, or the default folder cannot be made.
    """
    if url.drivername == "sqlite":
        file = Path(url.database or "")
        if file == default_file():
            try:
                file.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise StoreError(f"The folder {file.parent} cannot be made: {error.strerror}.") from error
        engine = create_engine(url, connect_args={"timeout": WAIT}, hide_parameters=True)
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    options = f"-c synchronous_commit=on -c lock_timeout={int(WAIT * 1000)}"
    try:
        connect = {"connect_timeout": 5, "client_encoding": "utf8", "options": options, **VANISHED}
        return create_engine(url, pool_pre_ping=True, connect_args=connect, hide_parameters=True)
    except ModuleNotFoundError as error:
        raise StoreError("PostgreSQL needs its driver: pip install 'clampgraph[postgresql]'.") from error


def _set_up_sqlite(connection: Any, _: object) -> None:
    connection.isolation_level = None  # transactions are begun by `_begin_sqlite` alone
    for pragma in ("synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}")
    patience = time.monotonic() + WAIT
    while connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        try:
            connection.execute("PRAGMA journal_mode=WAL")
        except connection.OperationalError as error:
            # SQLite does not wait by itself when two processes change the mode at once.
            if "locked" not in str(error) or time.monotonic() > patience:
                raise
            time.sleep(0.01)


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def take_turn(connection: Connection) -> None:
    """Wait until no other process writes; SQLite did so when the transaction began."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:turn)"), {"turn": _TURN})


def prepare(engine: Engine, place: str) -> None:
    """Bring a store to this version, once, whoever else starts at the same time.

    Raises
    ------
    StoreError
        If it was made by a newer version.
    """
    with engine.connect() as connection:
        if _version(connection) == HEAD:
            return
    with engine.connect().execution_options(**WRITING) as connection, connection.begin():
        take_turn(connection)
        found = _version(connection)
        if found is None or found < HEAD:
            _migrate(connection)
        elif found > HEAD:
            raise StoreError(f"The case store {place} is of version {found}, newer than this clampgraph: update it.")


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def _migrate(connection: Connection) -> None:
    from alembic import command  # noqa: PLC0415  # a store that is ready does not need it
    from alembic.config import Config  # noqa: PLC0415  # the same

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    config.attributes["connection"] = connection
    with _ALEMBIC:
        command.upgrade(config, "head")
