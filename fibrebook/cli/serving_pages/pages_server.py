"""The server of the pages without code: Voila, with what keeps its kernels few.

Each page has a kernel of its own. A page that is left or loaded again asks the server to end its kernel, and must show
a cookie for it (so that no other site can have it done); Voila asks for the cookie and never gives it, so the call was
refused and the kernel stayed. Here each page gets it. What is left all the same, by a browser that crashed, is ended
when no page was heard of for IDLE_S; and no more than `Pages.most` kernels run at a time.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import Any

import traitlets as t
from tornado import web
from voila.app import Voila
from voila.tornado.handler import TornadoVoilaHandler

from fibrebook.regular_files import read_regular
from fibrebook.screens.frame import drafts

IDLE_S = 300
FULL = (
    "{} page(s) are open, as many as this machine is to carry at a time. Close one that is no longer needed and load "
    "this one again in a moment; nothing that was typed is lost."
)


OWN_ONLY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; "
    "style-src 'self' 'unsafe-inline' blob:; img-src 'self' data: blob:; font-src 'self' data:; "
    "connect-src 'self' ws: wss: data: blob:; worker-src 'self' blob:; frame-ancestors 'self'; form-action 'self'"
)
SECRET_BYTES = 32


def kept_secret(path: Path) -> bytes:
    """Return the secret in a file that this user alone may read; where there is none that is sound, a new one."""
    try:
        kept = read_regular(path, SECRET_BYTES + 1)
        if len(kept) == SECRET_BYTES:
            return kept
    except OSError:
        pass
    made = os.urandom(SECRET_BYTES)
    with contextlib.suppress(OSError):  # not kept: bookmarks then open until the server ends
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(f".{os.getpid()}-new")
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(made)
        fresh.replace(path)
    return made


class NotebookPage(TornadoVoilaHandler):
    """A notebook as a page."""

    @web.authenticated
    async def get(self, path: str | None = None) -> None:
        """Run the notebook and send what it shows; the page gets the cookie that its last call must bear."""
        most = self.settings["most_pages"]
        if len(self.kernel_manager.list_kernels()) >= most:  # one that is just being ended is in this list no more
            self.set_status(503)
            self.set_header("Content-Type", "text/plain; charset=utf-8")
            self.finish(FULL.format(most))
            return
        _ = self.xsrf_token  # asking for it is what sends the cookie
        await super().get(path)


class Pages(Voila):
    """Voila, with `NotebookPage` in the place of its own, and nothing fetched from any other machine.

    Its pages name a style sheet on the internet; a machine without a network would wait for it. And where no secret of
    its own is given, the one that cookies are signed with is kept for this user: a bookmark then opens tomorrow too.

    Attributes
    ----------
    most : how many pages, each with its kernel, run at a time
    """

    most = t.Int(24, config=True)

    def init_settings(self) -> dict[str, Any]:
        """Return Voila's settings, and ours."""
        return {**super().init_settings(), "most_pages": self.most, "headers": {"Content-Security-Policy": OWN_ONLY}}

    @t.default("cookie_secret")
    def _kept_secret(self) -> bytes:
        return kept_secret(drafts.folder() / "pages-cookie")

    def init_handlers(self) -> list[Any]:
        """Return Voila's handlers with ours among them."""
        return [(h[0], NotebookPage, *h[2:]) if h[1] is TornadoVoilaHandler else h for h in super().init_handlers()]
