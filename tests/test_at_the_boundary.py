"""What is told on one side of a boundary and not on the other, in answers, tables and pictures."""

from __future__ import annotations

import datetime as dt
import re

import pandas as pd
import pytest
from light_plant import duplex

from fibrebook.analyses.advice.advice import all_advice
from fibrebook.analyses.advice.situation import Situation
from fibrebook.drawings import panel_picture
from fibrebook.drawings.panel import CORD
from fibrebook.screens.widgets.table import Table
from fibrebook.snapshot.snapshot import PlantSnapshot

DAY = dt.date(2026, 3, 1)


@pytest.mark.parametrize("days, told", [(0, False), (31, False), (32, True), (61, True), (400, True)])
def test_a_temporary_cord_is_told_after_a_month(days, told):
    """Thirty-one days it may hang (our own choice, no source); on the day after it is told."""
    plant = duplex()
    for row in plant.rows["patches"]:
        row |= {"temporary": True, "fitted_on": DAY - dt.timedelta(days)}
    found = all_advice(Situation(PlantSnapshot(plant.tables, DAY)))
    assert any(a.check == "temporary patch" for a in found) is told


@pytest.mark.parametrize("order", [(0, False), (0, True)])
def test_a_table_sorts_labels_as_people_do(order):
    """2 before 10, capitals beside small letters, blanks last when rising."""
    labels = ["P10", "p2", "", "P1", "P2"]
    table = Table(pd.DataFrame({"label": labels}))
    table.order = list(order)
    shown = [labels[i] for i in table._which()]
    rising = ["P1", "p2", "P2", "P10", ""]
    assert shown == rising if not order[1] else [s.casefold() for s in shown] == [s.casefold() for s in rising[::-1]]


@pytest.mark.parametrize("cord", ["PC-1", None])
def test_a_port_is_drawn_with_a_plug_where_a_cord_is_in_it(cord):
    """One filled square more than the legend's own where a cord is plugged, none more where the port is free."""
    row = {"enclosure": "P1", "port": "1", "position": "A", "connector": "LC", "polish": "UPC", "cord": cord,
           "leads_to": "SW1/1" if cord else None, "core": None, "cable": None, "colour": None}  # fmt: skip
    svg = panel_picture([row]).svg
    assert len(re.findall(rf'<rect[^>]*width="13"[^>]*fill="{CORD}"', svg)) == (2 if cord else 1)
    assert ("SW1/1" in svg) is bool(cord)
