"""A core's colours as people say them."""

from __future__ import annotations

from typing import Any


def colour_words(core: dict[str, Any]) -> str:
    """Say a core's colours in words: ``blue tube, orange core with one black stripe``."""

    def one(part: str) -> str:
        colour, tracer = core.get(f"{part}_colour"), core.get(f"{part}_tracer")
        return f"{colour} {part}{' with ' + tracer if tracer else ''}" if colour else ""

    return ", ".join(filter(None, (one("tube"), one("core"))))
