"""README shows what the commands really print. To renew it: python tests/test_readme.py"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from fibrebook.demo import make_demo

README = Path(__file__).parent.parent / "README.md"
BLOCK = re.compile(
    r"(?P<head><!-- output: fibrebook (?P<words>.*?) -->\n)(?P<shown>.*?)(?P<tail><!-- end -->)", re.DOTALL
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo register."""
    folder = tmp_path_factory.mktemp("readme") / "demo-register"
    make_demo(folder)
    return folder


def printed(register: Path, words: str) -> str:
    """What a command prints, as a block of the README."""
    asked = [sys.executable, "-m", "fibrebook", "-r", str(register), *shlex.split(words)]
    done = subprocess.run(asked, capture_output=True, text=True, encoding="utf-8", check=True)
    return f"```\n{done.stdout.rstrip()}\n```\n"


@pytest.mark.parametrize("words", [m["words"] for m in BLOCK.finditer(README.read_text(encoding="utf-8"))])
def test_each_output_is_the_real_one(demo: Path, words: str) -> None:
    """Every output block of the README is what its command prints on the demo register."""
    shown = {m["words"]: m["shown"] for m in BLOCK.finditer(README.read_text(encoding="utf-8"))}
    assert shown[words] == printed(demo, words)


def test_the_three_answers_are_shown() -> None:
    """README shows which, spare and headroom."""
    words = [m["words"].split()[0] for m in BLOCK.finditer(README.read_text(encoding="utf-8"))]
    assert words == ["which", "spare", "headroom"]


def test_the_counts_of_the_demo_register_are_right(demo: Path) -> None:
    """README's number of sites and cores are those of the demo register."""
    import fibrebook

    reg = fibrebook.open(demo)
    told = re.search(r"\((\d+) sites, ([\d,]+) cores\)", README.read_text(encoding="utf-8"))
    assert told
    assert int(told[1]) == len(reg.sites())
    assert int(told[2].replace(",", "")) == len(reg.table("cores"))


if __name__ == "__main__":
    import tempfile

    place = Path(tempfile.mkdtemp()) / "demo-register"
    make_demo(place)
    text = README.read_text(encoding="utf-8")
    README.write_text(BLOCK.sub(lambda m: m["head"] + printed(place, m["words"]) + m["tail"], text), encoding="utf-8")
