"""Cores as the rows of a grid: number, tube and colour as they are seen on the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fibrebook.screens.widgets.grid import col
from fibrebook.screens.widgets.swatches import swatch_parts


def core_columns(cores: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return the columns that say which core a row is; the tube only where there are several."""
    several = len({c["tube"] for c in cores}) > 1
    tube = [col("tube", "Tube", "swatch")] if several else []
    return [col("core", "Core"), *tube, col("colour", "Colour", "swatch")]


def core_row(core: Mapping[str, Any], locked: Sequence[str] = ()) -> dict[str, Any]:
    """Return the row of a core; `locked` are the columns not to be changed."""
    cells = {
        "core": str(core["core"]),
        "tube": swatch_parts(core["tube_colour"], core["tube_tracer"]),
        "colour": swatch_parts(core["core_colour"], core["core_tracer"]),
    }
    return {"label": f"core {core['core']}", "cells": cells, "locked": list(locked)}
