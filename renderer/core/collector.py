"""Python's garbage collector, kept from work that it would do for nothing."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_at_rest() -> Iterator[None]:
    """No hunt for reference cycles while many values are made that hold none: it would take half the time.

    Afterwards they count as old, as if the collector had looked at them.
    """
    ran = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if ran:
            gc.freeze()
            gc.unfreeze()  # from where nothing is looked at to the oldest of the generations
            gc.enable()
