"""Floor 4: pictures as SVG, pure functions from an analysis's rows. Colour never stands alone: all is also in words."""

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
