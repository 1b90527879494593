"""The public face: `__all__` is sorted, complete, and everything in it is really there."""

from __future__ import annotations

import subprocess
import sys

import pytest

import fibrebook


def test_all_is_sorted_and_is_what_is_there() -> None:
    """Each public name can be had, and no lazily offered name is missing from `__all__`."""
    assert list(fibrebook.__all__) == sorted(fibrebook.__all__)
    assert set(fibrebook._HOMES) | {"__version__"} == set(fibrebook.__all__)
    for name in fibrebook.__all__:
        assert getattr(fibrebook, name) is not None
    assert set(fibrebook.__all__) <= set(dir(fibrebook))


def test_an_unknown_name_is_an_attribute_error() -> None:
    """A misspelt public name is told as Python tells it."""
    with pytest.raises(AttributeError, match="no attribute 'tracce'"):
        fibrebook.tracce  # noqa: B018


def test_importing_the_package_imports_nothing_heavy() -> None:
    """`import fibrebook` alone brings in neither pandas nor pyarrow nor a spreadsheet library."""
    heavy = "('pandas', 'pyarrow', 'numpy', 'openpyxl', 'obstore', 'ipywidgets')"
    code = f"import sys, fibrebook; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_user_error_is_one_family() -> None:
    """Every error class of the package is a FibrebookError."""
    from fibrebook import errors

    classes = [c for c in vars(errors).values() if isinstance(c, type) and issubclass(c, Exception)]
    assert len(classes) > 10
    assert all(issubclass(c, errors.FibrebookError) for c in classes)
