"""Tests meet no register and no plugin of the person who runs them."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Iterator

import hypothesis
import pytest

os.environ.pop("FIBREBOOK_REGISTER", None)  # the notebooks then make the demo register
for _name, _most in (("house", 40), ("long", 200)):  # a machine that is busy makes no finding
    hypothesis.settings.register_profile(
        _name, max_examples=_most, deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
    )
hypothesis.settings.load_profile("house")
os.environ["FIBREBOOK_PLUGINS"] = ""  # what is installed beside fibrebook changes no list of tables


@pytest.fixture(scope="session", autouse=True)
def _own_witness(tmp_path_factory):
    """What tests and what they stand on saw of registers is not kept among what the person who runs them saw."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("FIBREBOOK_WITNESS", str(tmp_path_factory.getbasetemp() / "seen"))
        yield


def pytest_configure(config):
    """The long run looks at more examples."""
    if "long" in config.option.markexpr and "not long" not in config.option.markexpr:
        hypothesis.settings.load_profile("long")


def pytest_collection_modifyitems(config, items):
    """What waits for browsers and kernels first, so that no process is left with a long file when the others are done.

    The long forms of the harnesses are left out unless they are asked for by name: pytest -m long.
    """
    items.sort(key=lambda item: not {"browser", "notebooks"} & {*item.path.parts})
    if "long" in config.option.markexpr:
        return
    long = [i for i in items if i.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [i for i in items if i not in long]


@pytest.fixture
def no_loop() -> Iterator[None]:
    """As in a program: no event loop runs here, though a browser driven from this process may have left one."""
    running = asyncio._get_running_loop()
    asyncio._set_running_loop(None)
    yield
    asyncio._set_running_loop(running)
