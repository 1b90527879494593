"""Python's collector of cycles put off while very many small things are made, none of which is garbage."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_put_off() -> Iterator[None]:
    """Put the collector off; it walks over all that is there again and again while a large list is read."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
