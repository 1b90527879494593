"""The harness itself and what every screen stands on."""

from __future__ import annotations

from typing import Any

from driver import axe_violations
from playwright.sync_api import expect


def test_site_picker_by_two_letters(lab: Any, demo: Any, axe: Any) -> None:
    """Two letters and Enter choose a site; the choice reaches Python."""
    lab.write(
        "picker.ipynb",
        "from fibrebook.forms.base import *\n"
        "s = Screen(None, 'Try', caution=EYES); p = SitePicker(s.reg)\n"
        "p.observe(lambda c: s.say('chosen ' + c['new']), 'value'); s.body = [p]\n"
        "s.body = [p, table_view(s.reg.table('cables'), 'Cables', on_pick=lambda i: s.say(f'row {i}'))]\ns",
    )
    lab.open("picker.ipynb")
    box = lab.shown(".fb-site input")
    box.click()
    box.press_sequentially("ha")
    expect(lab.shown(".fb-picker-option").first).to_contain_text("Halls", timeout=10_000)
    box.press("ArrowDown")
    box.press("Enter")
    expect(lab.shown(".fb-message")).to_have_text("chosen Harbour")
    lab.shown(".fb-pick").nth(3).click()
    expect(lab.shown(".fb-message")).to_have_text("row 3")
    assert axe_violations(lab.page, axe) == []
