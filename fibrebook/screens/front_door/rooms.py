"""The screens that the front page leads to, ours and plugins', and the making of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fibrebook.errors import FibrebookError, PluginError
from fibrebook.plugins import Page, gathered_screens
from fibrebook.screens.frame.screen import Screen

if TYPE_CHECKING:
    from fibrebook.register import Register


def rooms() -> dict[str, Page]:
    """Return what there is behind the front page, by name in the address."""
    return gathered_screens()


def made(page: Page, reg: Register) -> Screen:
    """Return the screen of a page, made for a register.

    Raises
    ------
    PluginError : its code is not there, breaks, or makes what is no screen
    """
    try:
        screen = page.function(reg)
    except (FibrebookError, OSError):
        raise
    except Exception as error:  # whatever a stranger's function may raise
        raise PluginError(f"the screen {page.name!r} broke: {type(error).__name__}: {error}") from error
    if not isinstance(screen, Screen):
        raise PluginError(f"the screen {page.name!r} is a {type(screen).__name__}, which is no Screen")
    return screen
