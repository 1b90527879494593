"""Doing something a moment after the last keystroke, so that no keystroke waits for it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any


class Later:
    """Calls `act` once, `after_s` seconds after the last `ask`; at once where no loop runs (scripts, tests)."""

    def __init__(self, act: Callable[[], Any], after_s: float = 0.4) -> None:
        self._act, self._after_s = act, after_s
        self._handle: asyncio.TimerHandle | None = None

    @property
    def asked(self) -> bool:
        """Whether it is still to be done."""
        return self._handle is not None

    def ask(self) -> None:
        """Want it done; asking again puts it off."""
        self.leave()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._act()
            return
        self._handle = loop.call_later(self._after_s, self._go)

    def leave(self) -> None:
        """Do not want it any more."""
        if self._handle is not None:
            self._handle.cancel()
            self._handle = None

    def now(self) -> None:
        """Do it at once, if it is still to be done."""
        if self._handle is not None:
            self._go()

    def _go(self) -> None:
        self.leave()
        self._act()
