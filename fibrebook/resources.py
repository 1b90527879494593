"""What is shipped beside the package: the demo firm's data and the notebooks."""

from __future__ import annotations

from pathlib import Path

from fibrebook.errors import NotFoundError


def shipped(name: str) -> Path:
    """Return the folder "data" or "notebooks": in the installed package, or beside it in a checkout."""
    package = Path(__file__).parent
    for folder in (package / "shipped" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise NotFoundError(f"the folder {name!r} was not installed with fibrebook; install it again, or use a checkout")
