"""A register that may not be read any more while a screen is open: what is shown belongs to what stands chosen, or is gone."""

from __future__ import annotations

import errno
import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fibrebook
from fibrebook import screens
from fibrebook.register.places.folder import LocalFolder
from fibrebook.screens.widgets.press import TOO_SOON_S, Press

_spec = importlib.util.spec_from_file_location("work", Path(__file__).parent / "browser" / "work.py")
assert _spec and _spec.loader
work = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(work)


pytestmark = pytest.mark.usefixtures("no_loop")


@pytest.fixture
def reg(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> fibrebook.Register:
    """The small register of two sites, opened anew so that nothing of it was read yet."""
    monkeypatch.setenv("FIBREBOOK_DRAFTS", str(tmp_path / "drafts"))
    work.make_small(tmp_path / "register")
    return fibrebook.open(tmp_path / "register")


@pytest.fixture
def shut(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Give a function that takes the right to read away, as the operating system tells it (root is never refused)."""

    def refuse(*_: Any) -> Any:
        raise PermissionError(errno.EACCES, "Permission denied")

    def act() -> None:
        for name in ("read", "exists", "list"):
            monkeypatch.setattr(LocalFolder, name, refuse)

    return act


def test_return_visit(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """Another site: nothing of the first is left, and it is said why; the search is shut."""
    screen = screens.return_visit(reg, "Mill")
    assert screen.answer.children
    shut()
    screen.site.value = "Farm"
    assert screen.answer.children == ()
    assert "cannot be read" in screen.said
    assert screen.search.disabled and screen.search.options == []


def test_what_is_asked_for(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """Another thing of the same site: the first one's path is not left under its name."""
    screen = screens.return_visit(reg, "Mill")
    screen.ask(("core", "C1", 1))
    assert screen.answer.children
    shut()
    screen.ask(("core", "C2", 3))
    assert screen.answer.children == ()
    assert "cannot be read" in screen.said


def test_site_picture(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """The first site's picture goes."""
    screen = screens.site_picture(reg, "Mill")
    assert screen._below.children
    shut()
    screen.site.value = "Farm"
    assert screen._below.children == ()
    assert "cannot be read" in screen.said


def test_spares(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """Another site, another cable: the lists before go, and no core can be reserved in what is not shown."""
    screen = screens.spares(reg)
    screen.choose_site("Mill")
    screen.choose_cable("C1")
    assert screen._cores.children and screen._form.layout.display is None
    shut()
    screen.choose_cable("C2")
    assert screen._cores.children == () and screen._form.layout.display == "none"
    screen.choose_site("Farm")
    assert screen._cables.children == ()
    assert "cannot be read" in screen.said


def test_a_form(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """The record of the first site is neither shown nor changed under the second."""
    screen = screens.form("cables", reg)
    screen.site.value = "Mill"
    screen.which.value = "C1"
    assert screen.box.state()["cable"] == "C1"
    shut()
    screen.site.value = "Farm"
    assert screen.box.model.key is None and screen.box.state() == {}
    assert screen.which.value == "" and screen.which.options == []
    assert "cannot be read" in screen.said


def test_record_visit(reg: fibrebook.Register, shut: Callable[[], None]) -> None:
    """The visit stays at the site whose lists are shown."""
    screen = screens.record_visit(reg)
    screen.site.value = "Mill"
    shut()
    screen.site.value = "Farm"
    assert (screen.site.value, screen.day.site) == ("Mill", "Mill")
    assert "cannot be read" in screen.said


class Button:
    """Enough of a button."""

    disabled = False


def test_a_press_made_twice_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """What waits in line while the first is handled is the same press; one made after reading is another."""
    now, done, button = [100.0], [], Button()
    monkeypatch.setattr("fibrebook.screens.widgets.press.time.monotonic", lambda: now[0])

    def act() -> None:
        done.append(button.disabled)
        now[0] += 5  # a slow save

    press = Press(act, button)
    press()
    press()
    now[0] += TOO_SOON_S / 2
    press()
    assert done == [True] and not button.disabled
    now[0] += TOO_SOON_S
    press()
    assert len(done) == 2


def test_a_press_that_fails_leaves_the_button_open() -> None:
    """An error of ours does not shut the button for good."""
    button = Button()

    def act() -> None:
        raise RuntimeError

    with pytest.raises(RuntimeError):
        Press(act, button)()
    assert not button.disabled
