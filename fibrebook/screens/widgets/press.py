"""One press of a saving button is one save: locked while it saves, and deaf to what was pressed meanwhile."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from typing import Any, Protocol

TOO_SOON_S = 0.6  # nobody reads what came of a press and presses again within that


class Lockable(Protocol):
    """A button."""

    disabled: bool


class Press:
    """Calls `act`, with the button shut meanwhile and for TOO_SOON_S after.

    Presses that wait in line while it runs are handled as soon as it has ended: those are the same press, made twice,
    and what came of the first stands. As long as a press would be none the button is seen to be shut: no press that a
    person could make is lost without a word.
    """

    def __init__(self, act: Callable[[], Any], button: Lockable) -> None:
        self._act, self._button = act, button
        self._ended = -TOO_SOON_S

    def __call__(self) -> None:
        """Act, unless this press came with the one before."""
        if time.monotonic() - self._ended < TOO_SOON_S:
            return
        shut, self._button.disabled = self._button.disabled, True
        try:
            self._act()
        finally:
            self._ended = time.monotonic()
            self._open_later(shut)

    def _open_later(self, shut: bool) -> None:
        def back() -> None:
            self._button.disabled = shut

        try:
            asyncio.get_running_loop().call_later(TOO_SOON_S, back)
        except RuntimeError:  # called by a program, not by a page: nothing waits in line
            back()
