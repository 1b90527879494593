"""Floor 4: pictures as SVG, pure functions from an analysis's rows. Colour never stands alone: all is also in words."""

from fibrebook.drawings.bars import headroom_bars, spare_bars
from fibrebook.drawings.path import path_picture
from fibrebook.drawings.svg import Picture

__all__ = ["Picture", "headroom_bars", "path_picture", "spare_bars"]
