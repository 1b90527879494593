"""Records are declared once, and everything else follows from the declaration."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fibrebook.errors import InputError, NotFoundError
from fibrebook.records import KINDS, Kind, as_label, checked_table, kind_of, to_frame, to_table
from fibrebook.records.reference_page import PAGE, reference_page

DESIGN_KEYS = {  # the design's table of records: names that outside programs rely on
    "sites": ("site",),
    "locations": ("site", "location"),
    "enclosures": ("site", "enclosure"),
    "ports": ("site", "enclosure", "port", "position"),
    "cables": ("site", "cable"),
    "cores": ("site", "cable", "core"),
    "splices": ("site", "enclosure", "tray", "slot"),
    "terminations": ("site", "enclosure", "port", "position"),
    "equipment": ("site", "equipment"),
    "interfaces": ("site", "equipment", "interface", "position"),
    "patches": ("site", "cord", "strand"),
    "channels": ("site", "channel"),
    "tests": ("site", "test"),
    "visits": ("site", "visit"),
    "snags": ("site", "snag"),
}


@pytest.mark.parametrize("name", DESIGN_KEYS)
def test_keys_are_those_of_the_design(name: str) -> None:
    """Key columns stand first and are exactly the design's."""
    kind = KINDS[name]
    assert kind.key == DESIGN_KEYS[name]
    assert set(kind.key) <= set(kind.names)
    assert kind.schema.names == list(kind.names)


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_every_declaration_hangs_together(kind: Kind) -> None:
    """Every column has help, every link names declared columns and kinds, every key is there."""
    assert all(c.help.endswith(".") or c.help.endswith("...") for c in kind.columns)
    assert len(set(kind.names)) == len(kind.names)
    for link in kind.links:
        assert set(link.columns) <= set(kind.names)
        assert set(link.to) <= set(KINDS)


def test_the_reference_page_is_the_declaration() -> None:
    """RECORDS.md is what the declarations say; to renew it: python -m fibrebook.records.reference_page"""
    assert PAGE.read_text(encoding="utf-8") == reference_page()


@pytest.mark.parametrize("dress", [1, 1.0, "1", "1.0", " 1 ", np.int64(1), np.float64(1.0)])
def test_one_label_in_several_dresses(dress: object) -> None:
    """1, 1.0 and "1" from a spreadsheet are the same label, alone and in a column of mixed cells."""
    assert as_label(dress) == "1"
    rows = [{"site": dress, "cable": "C", "core_count": 4}, {"site": "x", "cable": 2.5, "core_count": "8"}]
    table = checked_table(KINDS["cables"], rows)
    assert table["site"].to_pylist() == ["1", "x"]
    assert table["cable"].to_pylist() == ["C", "2.5"]
    assert table["core_count"].to_pylist() == [4, 8]


@pytest.mark.parametrize(
    ("column", "value", "what"),
    [
        ("core_count", "twelve", "no whole number"),
        ("core_count", 12.5, "no whole number"),
        ("core_count", 0, "out of range"),
        ("core_count", 10**9, "out of range"),
        ("core_count", 10**30, "whole number|cannot be kept|out of range"),
        ("core_count", True, "no whole number"),
        ("core_count", None, "is blank"),
        ("length_m", "0,35", "no number"),
        ("length_m", -1, "out of range"),
        ("length_m", math.inf, "no number|out of range"),
        ("length_basis", "guessed", "not one of its values"),
        ("installed_on", "31/12/2024", "no date"),
        ("installed_on", 45000, "no date"),
        ("installed_on", dt.datetime(2026, 3, 31, 14, 30), r"time of day \(14:30\)"),
        ("installed_on", "2026-03-31T14:30:05", r"time of day \(14:30:05\)"),
        ("installed_on", "2026-03-31 00:00:00.000001", "time of day"),
        ("installed_on", np.datetime64("2026-03-31T23:59"), r"time of day \(23:59\)"),
        ("installed_on", pd.Timestamp("2026-03-31 06:00", tz="UTC"), r"time of day \(06:00\)"),
        ("cable", "a\nb", "control character or line break"),
        ("cable", "a\ud800b", "cannot be kept"),
        ("cable", "x" * 300, "longer than"),
        ("cable", dt.date(2024, 1, 2), "is a date here"),
        ("notes", "bell \x07", "control character"),
        ("lenght_m", 3, "no column"),
    ],
)
def test_what_does_not_fit_is_named(column: str, value: object, what: str) -> None:
    """A wrong value is named by row and column with what is wrong and what would be right."""
    row = {"site": "S", "cable": "C1", "core_count": 4, column: value}
    with pytest.raises(InputError, match=what) as caught:
        checked_table(KINDS["cables"], [row])
    problem = caught.value.problems[0]
    assert problem.column == column
    assert problem.remedy


MIDNIGHTS = [
    dt.datetime(2026, 3, 31),
    dt.datetime(2026, 3, 31, tzinfo=dt.timezone(dt.timedelta(hours=9))),
    "2026-03-31T00:00",
    "2026-03-31",
    np.datetime64("2026-03-31T00:00"),
    pd.Timestamp("2026-03-31"),
    dt.date(2026, 3, 31),
]


def test_midnight_is_the_date_alone() -> None:
    """A date that a spreadsheet or a DataFrame dresses as midnight of that day is that day, in any time zone."""
    rows = [{"site": "S", "cable": i, "core_count": 4, "installed_on": value} for i, value in enumerate(MIDNIGHTS)]
    table = checked_table(KINDS["cables"], rows)
    assert table["installed_on"].to_pylist() == [dt.date(2026, 3, 31)] * len(MIDNIGHTS)


@pytest.mark.parametrize("dress", ["DataFrame", "timestamp[ms]", "date64"])
def test_a_column_of_times_loses_none_silently(dress: str) -> None:
    """In a whole column of one type, too, the row whose time of day is not midnight is named and no other."""
    days = pa.array([dt.datetime(2026, 3, 31), dt.datetime(2026, 3, 31, 14, 30), None], pa.timestamp("ms"))
    if dress == "date64":
        days = days.cast(pa.int64()).cast(pa.date64())
    rows = pa.table({"site": ["S"] * 3, "cable": ["1", "2", "3"], "core_count": [4] * 3, "installed_on": days})
    dressed = rows.to_pandas() if dress == "DataFrame" else rows
    table, problems = to_table(KINDS["cables"], dressed)
    assert table["installed_on"].to_pylist() == [dt.date(2026, 3, 31), None, None]
    assert [(p.row, p.column) for p in problems] == [(1, "installed_on")]
    assert "write the date alone, as 2026-03-31" in problems[0].remedy


def test_allowed_values_are_met_in_any_case() -> None:
    """ "apc" is read as APC: capital or small letters are not another word."""
    row = {"site": "S", "enclosure": "P", "port": 1, "polish": "apc"}
    assert checked_table(KINDS["ports"], [row])["polish"].to_pylist() == ["APC"]


def test_an_unknown_table_suggests_the_nearest() -> None:
    """A misspelt table name is answered with the nearest one."""
    with pytest.raises(NotFoundError, match="did you mean 'cables'"):
        kind_of("cabels")


DRAWN_AS_NOTHING = "\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0"  # letters and marks
VARIANTS = "".join(map(chr, [*range(0x180B, 0x1810), *range(0xFE00, 0xFE10), *range(0xE0100, 0xE01F0)]))
SEEN = st.characters(
    exclude_categories=("C", "Z"), include_characters=" ", exclude_characters=DRAWN_AS_NOTHING + VARIANTS
)
LABELS = st.text(SEEN, min_size=1, max_size=40)


@given(st.lists(st.tuples(LABELS, st.integers(1, 1728), st.none() | st.floats(0, 500_000)), min_size=1, max_size=8))
@settings(deadline=None)
def test_what_goes_in_comes_out(rows: list[tuple[str, int, float | None]]) -> None:
    """Rows converted from dicts, from a DataFrame and from their own Arrow table are the same rows."""
    dicts = [{"site": "S", "cable": c, "core_count": n, "length_m": m} for c, n, m in rows]
    first, problems = to_table(KINDS["cables"], dicts)
    blank = [i for i, (c, _, _) in enumerate(rows) if not c.strip()]
    assert [p.row for p in problems] == blank
    assert to_table(KINDS["cables"], pd.DataFrame(dicts))[0].equals(first)
    again, problems = to_table(KINDS["cables"], first)
    assert again.equals(first)
    assert first["core_count"].to_pylist() == [n for _, n, _ in rows]
    frame = to_frame(first, KINDS["cables"])
    assert frame["core_count"].tolist() == [n for _, n, _ in rows]


def test_frames_have_types_people_expect() -> None:
    """Text is text, whole numbers may be missing, dates are dates."""
    row = {"site": "S", "cable": "C", "core_count": 4, "installed_on": dt.date(2024, 5, 1), "length_m": None}
    frame = to_frame(checked_table(KINDS["cables"], [row]), KINDS["cables"])
    assert str(frame["installed_on"].dtype).startswith("datetime64")
    assert str(frame["core_count"].dtype) == "Int64"
    assert math.isnan(frame["length_m"][0])
    assert pa.types.is_date(KINDS["cables"].schema.field("installed_on").type)
