"""Draw README's picture from the demo register: python data/make_pictures.py"""

from __future__ import annotations

import tempfile
from pathlib import Path

import fibrebook
from fibrebook.demo import make_demo
from fibrebook.drawings import path_picture

HERE = Path(__file__).parent


def draw() -> str:
    """Return the picture of one path of the demo register as SVG."""
    folder = Path(tempfile.mkdtemp()) / "demo-register"
    make_demo(folder)
    path = fibrebook.trace(fibrebook.open(folder), "Harbour", ("core", "HO-HL/1", 3))
    return path_picture(path, "Harbour: core 3 of HO-HL/1, from end to end").svg


if __name__ == "__main__":
    (HERE / "pictures").mkdir(exist_ok=True)
    (HERE / "pictures" / "path.svg").write_text(draw() + "\n", encoding="utf-8")
