"""Colours of tubes and cores: the public face of colour_orders (codes, words) and cable_colours (whole cables)."""

from __future__ import annotations

from fibrebook.reference.cable_colours import MOST_CORES, cable_cores, many_cables, tube_sizes_of
from fibrebook.reference.colour_orders import (
    canonical_code,
    codes,
    colour_of,
    hex_of,
    line,
    order,
    read_colour,
    text_on,
)

__all__ = [
    "MOST_CORES",
    "cable_cores",
    "canonical_code",
    "codes",
    "colour_of",
    "hex_of",
    "line",
    "many_cables",
    "order",
    "read_colour",
    "text_on",
    "tube_sizes_of",
]
