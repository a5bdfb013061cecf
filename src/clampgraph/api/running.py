"""Run the service: listen, load, start workers, read the packs again on SIGHUP, and stop without losing a request.

One worker serves in this process.
Several are processes of their own that share the listening socket; this one only watches over them, hands on
SIGHUP, and starts another where one dies.
"""

import logging
import os
import signal
import socket
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from uvicorn.supervisors import Multiprocess

from clampgraph.api.app import create_app
from clampgraph.api.around.logs import Handed, Log, log_to
from clampgraph.api.around.metrics import forget_worker
from clampgraph.api.living import NOTICE
from clampgraph.api.patience import PatientConfig, PatientProtocol
from clampgraph.api.settings import Settings
from clampgraph.api.sharing import settle
from clampgraph.api.tokens import TokenFile
from clampgraph.errors import DataError, WrongCallError

__all__ = ["run", "worker"]

SETTINGS = "CLAMPGRAPH_WORKER_SETTINGS"
"""Environment variable through which a worker gets its settings."""


class _Workers(Multiprocess):
    """Workers that read their packs again on SIGHUP, instead of being started anew."""

    def keep_subprocess_alive(self) -> None:
        """Start another worker where one died; what the dead one held in memory counts no more."""
        for process in self.processes:
            process.child_conn.close()  # the worker's own end: held open here, its death would not show on the line
        before = {process.pid for process in self.processes}
        super().keep_subprocess_alive()
        for pid in before - {process.pid for process in self.processes}:
            forget_worker(pid)

    def handle_hup(self) -> None:
        """Hand the signal on."""
        for process in self.processes:
            if process.pid is not None:
                with suppress(ProcessLookupError):
                    os.kill(process.pid, signal.SIGHUP)


def run(settings: Settings) -> None:
    """Serve until told to stop.

    Raises
    ------
    ClampgraphError
        If the packs cannot be loaded, the file of tokens cannot be read, or the address cannot be listened on.
    """
    log = log_to(settings.log)
    _quiet(log)
    _check_tokens(settings)
    app = create_app(settings=settings)
    listener = _listen(settings)
    address = listener.getsockname()
    log.info("listening", url=f"http://{_written(address[0])}:{address[1]}", workers=settings.workers)
    with suppress(KeyboardInterrupt), listener:
        if settings.workers == 1:
            settle()
            uvicorn.Server(_config(app, settings)).run(sockets=[listener])
        else:
            if app.state.keeper.held is not None:
                app.state.keeper.held.retire()  # else this process would use the first edition for ever
            del app  # it has shown that the packs load
            _run_workers(settings, listener)


def worker() -> FastAPI:
    """Make the application of one worker; what it needs stands in the environment."""
    settings = Settings.model_validate_json(os.environ[SETTINGS])
    _quiet(log_to(settings.log))
    app = create_app(settings=settings)
    settle()
    return app


def _run_workers(settings: Settings, listener: socket.socket) -> None:
    with tempfile.TemporaryDirectory(prefix="clampgraph-") as shared:
        counts = Path(shared) / "metrics"
        counts.mkdir()
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(counts)
        os.environ[NOTICE] = str(Path(shared) / "edition")
        os.environ[SETTINGS] = settings.model_dump_json()
        _Workers(_config("clampgraph.api.running:worker", settings), [listener]).run()


def _config(app: Any, settings: Settings) -> uvicorn.Config:
    return PatientConfig(
        app,
        patience=settings.patience,
        most=settings.connections,
        factory=isinstance(app, str),
        workers=settings.workers,
        http=PatientProtocol,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=max(1, min(5, int(settings.patience))),
        timeout_graceful_shutdown=int(settings.grace) or 1,
        timeout_worker_healthcheck=30,
        h11_max_incomplete_event_size=settings.header_limit + settings.query_limit,
    )


def _listen(settings: Settings) -> socket.socket:
    try:
        family, _, _, _, address = socket.getaddrinfo(settings.host, settings.port, type=socket.SOCK_STREAM)[0]
        listener = socket.create_server(address[:2], family=family, backlog=2048)
        # Connections inherit this; else each answer waits about 40 ms for the acknowledgement of the one before.
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    except OSError as error:
        where = f"{settings.host}:{settings.port}"
        raise DataError(f"The service cannot listen on {where}: {error.strerror}; choose another --port.") from error
    return listener


def _written(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _check_tokens(settings: Settings) -> None:
    if settings.tokens is None:
        return
    if not TokenFile(settings.tokens).read():
        raise WrongCallError(f"{settings.tokens} holds no token; make one with 'clampgraph token NAME'.")


def _quiet(log: Log) -> None:
    """Let the server's own log speak through ours, and only of what is not as it should be."""
    for name in ("uvicorn", "uvicorn.error", "asyncio"):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [], False
        logger.setLevel(logging.WARNING)
    for name in ("uvicorn", "asyncio"):
        logging.getLogger(name).handlers = [Handed(log)]
    logging.getLogger("uvicorn.error").propagate = True
