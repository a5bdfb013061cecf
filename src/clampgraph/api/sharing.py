"""How a process that serves shares its processor and its memory: between what lies ready and what is computed."""

import asyncio
import gc
import sys
import time

from clampgraph.memory import give_back

__all__ = ["settle", "thrift"]

SWITCH = 0.0005
"""Seconds that a computation goes on while others want to run; what lies ready waits that long at every step."""

PAUSE = 5.0
"""Seconds between two looks at whether free memory should go back to the system."""

BUSY = 0.5
"""Seconds of processor time within a pause from which on it pays to give memory back."""


def settle() -> None:
    """Share the processor finely, and spare what is loaded by now the search for garbage, which stops everything."""
    sys.setswitchinterval(SWITCH)
    gc.collect()
    gc.freeze()


async def thrift() -> None:
    """Give free memory back now and then while questions are computed, which takes and frees a lot of it."""
    while True:
        used = time.process_time()
        await asyncio.sleep(PAUSE)
        if time.process_time() - used > BUSY:
            await asyncio.to_thread(give_back)
