"""One place that watches a register for new commits; every view of a kernel subscribes here."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
import weakref
from collections.abc import Callable

from fibrebook.errors import FibrebookError, NotFoundError
from fibrebook.plugins import in_words
from fibrebook.register import Register
from fibrebook.register import open as open_register

EVERY_S = 1.0
THERE_S = 3.0  # how often it is looked whether the register is there at all
Call = Callable[[int], None]
Told = Callable[[str], None]
log = logging.getLogger(__name__)


class Watch:
    """Tells subscribers the newest commit's number as soon as it is another than before.

    Once a screen is drawn in a page it looks once a second, in the loop that handles the page's messages, so that news
    and what is typed never work on a screen at the same time; elsewhere (tests, scripts) call `refresh`.

    Attributes
    ----------
    reg : the register watched
    commit : newest commit seen
    trouble : why it cannot be reached at the moment, in words; "" where it can
    """

    def __init__(self, reg: Register, every_s: float = EVERY_S) -> None:
        self.reg, self.every_s = reg, every_s
        self.commit = reg.commit
        self.trouble = ""
        self._calls: list[weakref.WeakMethod[Call] | Callable[[], Call]] = []
        self._troubled: list[weakref.WeakMethod[Told]] = []
        self._beside: tuple[str, ...] = (in_words(), *reg.doubts)  # what else a screen tells of it
        self._looked = 0.0
        self._task: asyncio.Task[None] | None = None
        self._loop: asyncio.AbstractEventLoop | None = None

    def subscribe(self, call: Call) -> Callable[[], None]:
        """Call `call(commit)` after each new commit, ours or others'; return a function that ends it.

        A bound method does not keep its owner alive: a screen that was thrown away is forgotten by itself.
        """
        held = weakref.WeakMethod(call) if hasattr(call, "__self__") else (lambda: call)
        self._calls.append(held)

        def leave() -> None:
            with contextlib.suppress(ValueError):
                self._calls.remove(held)

        return leave

    def refresh(self) -> int:
        """Look now; tell the subscribers if there is a new commit; return the newest number."""
        newest = self.reg.commit
        if newest != self.commit:
            self.commit = newest
            self._tell(newest)
        return newest

    def in_trouble(self, call: Told) -> None:
        """Call a bound method with words when the register cannot be reached, and with "" when it can be again."""
        self._troubled.append(weakref.WeakMethod(call))

    def away(self) -> str:
        """Say that the register is not where it was, or cannot be read there; "" where it is."""
        try:
            there = open_register(self.reg.where, read_only=True).id
        except NotFoundError:
            return (
                f"the register is not at {self.reg.where} any more. Was the folder moved, or its drive or network "
                "taken away? Put it back, or open it where it is now."
            )
        except (FibrebookError, OSError) as error:
            return f"the register at {self.reg.where} cannot be read: {error}."
        return "" if there == self.reg.id else f"another register lies at {self.reg.where} now."

    def _look_whether_there(self, fault: str = "") -> None:
        now = time.monotonic()
        if fault or self.trouble or now - self._looked >= THERE_S:
            self._looked = now
            self._tell_trouble(self.away() or fault)

    def _tell_trouble(self, words: str) -> None:
        beside = (in_words(), *self.reg.doubts)
        if (words, beside) == (self.trouble, self._beside):
            return
        self.trouble, self._beside = words, beside
        for held in list(self._troubled):
            call = held()
            if call is None:
                self._troubled.remove(held)
            else:
                call(words)

    def start(self) -> None:
        """Look by itself from now on, in the loop that this is called in (where none runs: not at all)."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:  # a script or a test
            return
        if self._task is None or self._task.done() or self._loop is not loop:
            self.stop()  # a page that was loaded anew has a loop of its own
            self._loop, self._task = loop, loop.create_task(self._look_on())

    def stop(self) -> None:
        """Look no more."""
        if self._task is not None and self._loop is not None:
            with contextlib.suppress(RuntimeError):  # its loop is closed, so it looks no more
                self._loop.call_soon_threadsafe(self._task.cancel)
            self._task = self._loop = None

    async def _look_on(self) -> None:
        while True:
            await asyncio.sleep(self.every_s)
            try:
                self.refresh()
                self._look_whether_there()
            except (FibrebookError, OSError) as error:  # a share that is away for a moment; look again
                self._look_whether_there(f"the register cannot be read: {error}.")
            except Exception:  # it must not end the looking
                log.exception("the register could not be looked at")

    def _tell(self, newest: int) -> None:
        for held in list(self._calls):
            call = held()
            if call is None:
                with contextlib.suppress(ValueError):
                    self._calls.remove(held)
                continue
            try:
                call(newest)
            except Exception:  # one view that breaks must not keep the others from the news
                log.exception("a view could not show commit %s", newest)


_WATCHES: dict[str, Watch] = {}


def watch(reg: Register) -> Watch:
    """Return the one watch of a register in this kernel."""
    found = _WATCHES.get(reg.where)
    if found is None or found.reg.id != reg.id:
        found = _WATCHES[reg.where] = Watch(reg)
    return found
