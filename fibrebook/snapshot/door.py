"""Our own ways of calling records, brought in by the door that plugins use."""

from __future__ import annotations

from collections.abc import Iterable

from fibrebook.plugins import SpokenName, hookimpl

OUR_SPOKEN_NAMES = (
    SpokenName("cores", "fibrebook.snapshot.spoken_cores:by_colour", "A core by a colour and a number: orange 7."),
)


@hookimpl
def spoken_names() -> Iterable[SpokenName]:
    """Give cores by a colour and a number."""
    return OUR_SPOKEN_NAMES
