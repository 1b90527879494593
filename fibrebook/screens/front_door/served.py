"""The front door as a page of its own: what the server's one hidden cell shows."""

from __future__ import annotations

import os
from html import escape
from pathlib import Path

import ipywidgets as w

from fibrebook.errors import FibrebookError
from fibrebook.screens.frame.screen import html, which_register, words_of
from fibrebook.screens.front_door.page import Home

CALLED_FROM = "FIBREBOOK_CALLED_FROM"  # the folder in which the command was typed: paths typed on a screen begin there


def page() -> w.Widget:
    """Return the page of the register that FIBREBOOK_REGISTER names; where it cannot be opened, that in words."""
    called_from = os.environ.get(CALLED_FROM)
    if called_from and Path(called_from).is_dir():
        os.chdir(called_from)
    try:
        return Home(which_register())
    except (FibrebookError, OSError) as error:
        return html(f"<p role='alert'>{escape(words_of(error))}</p>")
