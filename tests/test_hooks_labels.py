"""Schemes of labels: ours by the hook; a plugin's goes before ours where a next label is proposed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pyarrow as pa
import pytest
from ducts import door

from fibrebook import plugins
from fibrebook.plugins import LabelScheme
from fibrebook.records import KINDS
from fibrebook.records.values.label_schemes import OUR_LABEL_SCHEMES, schemes
from fibrebook.screens.recording.rows.cords import next_cord
from fibrebook.screens.recording.rows.readings import next_labels


@pytest.fixture(autouse=True)
def _alone() -> Iterator[None]:
    """No plugin but those of the test."""
    with door(""):
        yield


def plug(*given: Any, name: str = "firm") -> None:
    """Put a plugin that gives schemes to the door."""
    give = plugins.hookimpl(lambda: given)
    give.__name__ = "label_schemes"
    plugins.manager().register(type("Firm", (), {"label_schemes": staticmethod(give)})(), name=name)


def at_site(site: str = "Mill", **labels: list[str]) -> dict[str, pa.Table]:
    """Tables of one site, with records of some kinds that bear these labels."""
    found = {"sites": pa.Table.from_pylist([{"site": site}], schema=KINDS["sites"].schema)}
    for kind in ("tests", "snags", "photos", "patches"):
        own = KINDS[kind].own_key
        rows = [
            {"site": site, **dict.fromkeys(own, ""), own[-1 if kind != "patches" else 0]: n}
            for n in labels.get(kind, [])
        ]
        schema = KINDS[kind].schema
        blank = [{**{f.name: None for f in schema}, **row} for row in rows]
        found[kind] = pa.Table.from_pylist(blank, schema=pa.schema([f.with_nullable(True) for f in schema]))
    return found


def test_ours_begin_where_a_site_has_none_and_go_on_in_its_own_way() -> None:
    """The first labels are those of our schemes; a site that writes them otherwise goes on so."""
    assert dict(plugins.gathered("label_schemes")) == {"fibrebook.records.values.label_schemes": [*OUR_LABEL_SCHEMES]}
    assert next_cord(at_site()) == "PC-001" and next_cord(at_site(patches=["K7"])) == "K8"
    for kind, first in (("tests", "T1"), ("snags", "S1"), ("photos", "F1")):
        assert next_labels(at_site(), 1, kind) == [first]
    assert next_labels(at_site(tests=["T0041", "X1"]), 2) == ["X2", "X3"]


def test_a_firms_scheme_goes_before_ours() -> None:
    """It counts on from the highest label that is written so, whatever else stands there; columns of the site are filled."""
    plug(LabelScheme("tests", "{site}/T-{number:03d}"))
    assert next_labels(at_site("A.1", tests=["X900", "A.1/T-009", "A.1/T-10", "Ax1/T-700"]), 2) == [
        "A.1/T-011",
        "A.1/T-012",
    ]
    assert next_labels(at_site("Barn", tests=["T7"]), 1) == ["Barn/T-001"]
    assert next_labels(at_site(), 1, "snags") == ["S1"]


def test_the_example_labels_cords_by_their_site() -> None:
    """With the example package installed the next cord of a site bears its label."""
    with door("example"):
        assert next_cord(at_site("Mill", patches=["PC-004", "Mill-P2"])) == "Mill-P3"


FAULTY: dict[str, tuple[Any, str]] = {
    "no declaration": ("T{number}", "no LabelScheme"),
    "no text": (LabelScheme("tests", 5), "no LabelScheme of texts"),  # type: ignore[arg-type]
    "no such kind": (LabelScheme("test", "T{number}"), "no such kind of record"),
    "the firm's own": (LabelScheme("choices", "T{number}"), "no such kind of record"),
    "no label": (LabelScheme("cores", "T{number}"), "bear no label"),
    "no number": (LabelScheme("tests", "T{site}"), "must hold the number once"),
    "the number twice": (LabelScheme("tests", "{number}-{number}"), "must hold the number once"),
    "an unknown column": (LabelScheme("tests", "{cable}-{number}"), "is no format"),
    "a bracket too few": (LabelScheme("tests", "{number"), "is no format"),
    "no number's form": (LabelScheme("tests", "{number:xyz}"), "is no format"),
    "into what it is": (LabelScheme("tests", "{site.__class__}{number}"), "no column of sites"),
}


@pytest.mark.parametrize("name", FAULTY)
def test_a_faulty_one_is_left_out_and_named(name: str) -> None:
    """Ours stands, the plugin is named with what is wrong, and saves go on."""
    given, told = FAULTY[name]
    plug(given)
    assert next_labels(at_site(tests=["T4"]), 1) == ["T5"]
    assert "'firm'" in plugins.in_words() and told in plugins.in_words()
    assert "Nothing can be saved" not in plugins.in_words()


def test_the_first_of_two_stands() -> None:
    """Where two plugins give a scheme for one kind, the second is named and left out."""
    plug(LabelScheme("tests", "A{number}"), name="one")
    plug(LabelScheme("tests", "B{number}"), name="two")
    assert schemes()["tests"].format == "A{number}"
    assert "'two'" in plugins.in_words() and "already" in plugins.in_words()
