"""Write the notebooks of the screens, one cell each, with a picture of it: python -m tests.browser.screen_notebooks"""

from __future__ import annotations

import base64
import io
import json
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from driver import Lab, chromium
from hands import Hands
from lab_server import lab as serve
from PIL import Image
from playwright.sync_api import sync_playwright
from screens import SCREENS as ACTS

from fibrebook.demo import make_demo
from fibrebook.screens.front_door.door import OUR_SCREENS

REPO = Path(__file__).parents[2]
WIDTH, HEIGHT = 1000, 560
COLOURS = 48
OPENS = "Run this cell (Shift+Enter) and the screen opens here. Without a notebook: `fibrebook open`."
# what is done on a screen before its picture is taken, where it shows little by itself
DONE = {"return-visit": "return-visit", "record-visit": "record-visit-tray", "site-picture": "site-picture"}


def screens() -> dict[str, tuple[str, str]]:
    """The notebooks to be: name of the file, then what the screen is for and its one cell."""
    shown = {
        "home": ("Find anything of the whole firm; what asks for attention; every screen behind one address.", HOME)
    }
    for page in OUR_SCREENS:
        function = page.run.partition(":")[2]
        shown[function] = (page.help, CELL.format(function=function))
    return shown


CELL = """from fibrebook import screens
from fibrebook.demo import chosen_register

screens.{function}(chosen_register())"""
HOME = """import fibrebook
from fibrebook.demo import chosen_register

fibrebook.home(chosen_register())"""


def notebook(name: str, says: str, code: str, picture: bytes) -> dict[str, Any]:
    """A notebook of one cell whose kept output is a picture and a sentence; where it is run, the screen takes their place."""
    outputs = [
        _shown({"text/markdown": [f"{says} {OPENS}"], "text/plain": [f"{says} {OPENS}"]}),
        _shown({"image/png": base64.b64encode(picture).decode(), "text/plain": [f"A picture of the screen {name}."]}),
    ]
    cell = {
        "cell_type": "code", "execution_count": 1, "id": name.replace("_", "-"),
        "metadata": {"tags": ["nbval-ignore-output"]}, "outputs": outputs, "source": code.splitlines(keepends=True),
    }  # fmt: skip
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    language = {"name": "python"}
    return {
        "cells": [cell],
        "metadata": {"kernelspec": kernel, "language_info": language},
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def _shown(data: dict[str, Any]) -> dict[str, Any]:
    return {"output_type": "display_data", "metadata": {}, "data": data}


def small(png: bytes) -> bytes:
    """The same picture in few colours: a screen has no more."""
    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(
        out, "PNG", optimize=True
    )
    return out.getvalue()


def main(wanted: list[str]) -> None:
    """Write those whose names are given; none given = all."""
    root = Path(tempfile.mkdtemp(prefix="screens-"))
    make_demo(root / "register")
    env = {"FIBREBOOK_REGISTER": str(root / "register"), "FIBREBOOK_DRAFTS": tempfile.mkdtemp()}
    with serve(root, FIBREBOOK_PLUGINS="", PYTHONPATH=str(REPO), **env) as base, sync_playwright() as playwright:
        browser = chromium(playwright)
        lab = Lab(base, root, browser.new_page(viewport={"width": WIDTH + 180, "height": 1400}, locale="en-GB"))
        for name, (says, code) in screens().items():
            if wanted and name not in wanted:
                continue
            picture = small(_picture(lab, name, code))
            path = REPO / "notebooks" / f"{name}.ipynb"
            text = json.dumps(notebook(name, says, code, picture), indent=1, ensure_ascii=False)
            path.write_text(text + "\n", encoding="utf-8")
            print(path.name, len(picture) // 1024, "KiB")
        browser.close()
    shutil.rmtree(root, ignore_errors=True)


def _picture(lab: Lab, name: str, code: str) -> bytes:
    lab.write(f"{name}.ipynb", code)
    lab.open(f"{name}.ipynb")
    screen = lab.shown(".fb-screen").first
    screen.wait_for()
    act = DONE.get(name.replace("_", "-"))
    if act:
        ACTS[act][1](Hands(lab))
    lab.page.wait_for_timeout(1500)
    box = screen.bounding_box()
    assert box is not None
    clip = {"x": box["x"], "y": box["y"], "width": min(box["width"], WIDTH), "height": min(box["height"], HEIGHT)}
    png: bytes = lab.page.screenshot(clip=clip)
    lab.close()
    return png


if __name__ == "__main__":
    main(sys.argv[1:])
