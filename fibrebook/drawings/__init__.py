"""Pictures as SVG: pure functions from an analysis's rows.

In come rows, out goes a `Picture`, whose meaning is also told in words: colour never stands alone.
Neither an analysis nor a register is imported here.
"""

from fibrebook.drawings.bars import headroom_bars, spare_bars
from fibrebook.drawings.control_chart import control_chart
from fibrebook.drawings.panel import panel_picture
from fibrebook.drawings.path import path_picture
from fibrebook.drawings.site import site_schematic
from fibrebook.drawings.svg import Picture
from fibrebook.drawings.tray import tray_picture

__all__ = [
    "Picture", "control_chart", "headroom_bars", "panel_picture", "path_picture", "site_schematic", "spare_bars",
    "tray_picture",
]  # fmt: skip
