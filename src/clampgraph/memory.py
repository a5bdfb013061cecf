"""Memory that was freed, given back to the system, where the C library can."""

import contextlib
import ctypes

__all__ = ["give_back"]


def give_back() -> None:
    """Give free memory back; after large arrays came and went it takes a few milliseconds."""
    with contextlib.suppress(AttributeError, OSError, TypeError):  # only the GNU C library has it
        ctypes.CDLL(None).malloc_trim(0)
