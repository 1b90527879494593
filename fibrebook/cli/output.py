"""What commands print: nothing in it acts on the terminal, and where it cannot be printed that is said in words."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator
from typing import Any, TextIO

from fibrebook.errors import FibrebookError
from fibrebook.words.printable import visible

GONE = (errno.EPIPE, errno.ESHUTDOWN)  # the reader has all it wants, as `head` has


class OutputError(FibrebookError):
    """What a command says cannot be printed; what it did stands."""


class ReaderGoneError(Exception):
    """Whoever read what a command prints has stopped reading."""


class Careful:
    """A stream that is written to with care; everything else is the stream's own."""

    def __init__(self, stream: TextIO | None) -> None:
        self.stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)

    def write(self, text: str) -> int:
        """Write a text, what would act on a terminal by its number.

        Raises
        ------
        OutputError : the stream is closed or full
        ReaderGoneError : nobody reads it any more
        """
        with _in_words():
            if self.stream is None:
                raise OSError(errno.EBADF, os.strerror(errno.EBADF))
            self.stream.write(visible(text))
        return len(text)

    def flush(self) -> None:
        """Write out what waits; raises as `write` does."""
        with _in_words():
            if self.stream is not None:
                self.stream.flush()


@contextlib.contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:  # ValueError: written to after it was closed
        number = getattr(error, "errno", None)
        if number in GONE or (os.name == "nt" and number == errno.EINVAL):
            raise ReaderGoneError from error
        why = getattr(error, "strerror", None) or error
        raise OutputError(
            f"what there is to say cannot be printed: {why}. What the command did stands: look before you repeat it, "
            f"and print to a place that takes it"
        ) from error


@contextlib.contextmanager
def careful_streams() -> Iterator[None]:
    """Write to standard output and standard error with care for as long as the block lasts."""
    before = sys.stdout, sys.stderr
    for stream in before:
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]  # consoles that know few letters
    sys.stdout, sys.stderr = (Careful(s) for s in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def write_no_more() -> None:
    """Have what still waits in standard output go nowhere, so that the end of the process does not stumble over it."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
