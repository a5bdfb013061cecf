"""The command that runs the service."""

from typing import Annotated

import typer

from clampgraph.cli.options import Packs

__all__ = ["serve"]


def serve(
    host: Annotated[str, typer.Option(help="Address to listen on; only this machine by default.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535)] = 8350,
    data: Packs = None,
) -> None:
    """Run the service over HTTP."""
    import importlib

    # The two doors do not import each other; the service is found by name.
    create_app = importlib.import_module("clampgraph.api.app").create_app
    importlib.import_module("uvicorn").run(create_app(packs=data or []), host=host, port=port, log_level="info")
