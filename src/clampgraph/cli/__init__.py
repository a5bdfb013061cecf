"""The command line: parse, ask, print."""

from clampgraph.cli.app import main

__all__ = ["main"]
