"""Former names of modules answer for one release, with a warning that names the new place, and are then taken away."""

import importlib
import re
import sys
from pathlib import Path

import pytest

import fibrebook

PACKAGE = Path(fibrebook.__file__).parent
FORMER = {
    "fibrebook.forms": "fibrebook.screens",
    "fibrebook.analyses.schematic": "fibrebook.analyses.spare.site_schematic",
    "fibrebook.analyses.situation": "fibrebook.analyses.advice.situation",
    "fibrebook.light.joints": "fibrebook.light.meeting",
}


def numbers(version: str) -> tuple[int, ...]:
    """The numbers of a version, to be compared."""
    return tuple(int(n) for n in re.findall(r"\d+", version))


def aliases() -> set[str]:
    """Every module of the package that says when it is to go."""
    found = (p for p in PACKAGE.rglob("*.py") if re.search(r"^GONE_IN = ", p.read_text(encoding="utf-8"), re.MULTILINE))
    return {".".join(p.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__") for p in found}


def test_every_former_name_is_listed_here() -> None:
    """No alias stands in the package that this file does not hold to its promise."""
    assert aliases() == set(FORMER)


@pytest.mark.parametrize("old", FORMER)
def test_a_former_name_answers_and_names_the_new_one(old: str) -> None:
    """Whoever imports the former name gets the very same things, and is told where they are now."""
    sys.modules.pop(old, None)
    with pytest.warns(DeprecationWarning, match=re.escape(FORMER[old])):
        former = importlib.import_module(old)
    new = importlib.import_module(FORMER[old])
    public = getattr(new, "__all__", None) or [n for n in vars(new) if not n.startswith("_")]
    assert public
    assert all(getattr(former, name) is getattr(new, name) for name in public)


@pytest.mark.parametrize("old", FORMER)
def test_no_former_name_is_overdue(old: str) -> None:
    """A former name is taken away with the version that it says; this test fails until it is."""
    with pytest.warns(DeprecationWarning):
        sys.modules.pop(old, None)
        former = importlib.import_module(old)
    assert numbers(fibrebook.__version__) < numbers(former.GONE_IN), f"take {old} away, and its line here"
