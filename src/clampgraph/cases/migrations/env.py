"""What Alembic runs: the steps that a store lacks, in the transaction that opened it."""

from alembic import context

from clampgraph.cases.schema import METADATA

__all__ = ["run"]


def run() -> None:
    """Run the missing steps on the connection that `opening` hands over."""
    context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
    context.run_migrations()


if __name__ == "env_py":  # the name under which Alembic loads this file; a plain import does nothing
    run()
