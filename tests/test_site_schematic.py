"""The site's schematic and the open panel and tray as pictures: all is drawn, nothing overlaps, all is in words."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from demo_once import make_demo

import fibrebook
from fibrebook.analyses.paths.panel_and_tray import panel_rows, tray_rows
from fibrebook.analyses.spare.site_schematic import site_cables, site_places
from fibrebook.drawings import panel_picture, site_schematic, tray_picture
from fibrebook.drawings.layers import placed

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """The demo firm's register."""
    where = tmp_path_factory.mktemp("demo") / "register"
    make_demo(where)
    return fibrebook.open(where)


def parts(svg: str) -> dict[tuple[str, str], ET.Element]:
    """Clickable parts of a picture by kind and label."""
    return {
        (e.get("data-kind", ""), e.get("data-label", "")): e for e in ET.fromstring(svg).iter() if e.get("data-kind")
    }


def drawn(reg: fibrebook.Register, site: str) -> Any:
    """The schematic of a site."""
    return site_schematic(site_places(reg, site), site_cables(reg, site), site)


def test_every_enclosure_equipment_and_cable_of_every_site_is_a_part(reg: fibrebook.Register) -> None:
    """Each is drawn once, can be reached by keyboard, and says in words what it is."""
    for site in reg.sites():
        found = parts(drawn(reg, site).svg)
        for kind, table in (("enclosure", "enclosures"), ("equipment", "equipment"), ("cable", "cables")):
            for label in reg.table(table, site)[kind]:
                part = found[(kind, label)]
                assert part.get("tabindex") == "0" and part.get("role") == "button"
                assert label in str(part.get("aria-label"))


def boxes(svg: str) -> list[tuple[float, float, float, float]]:
    """Building boxes and cable tags: (left, top, right, bottom)."""
    found = []
    for e in ET.fromstring(svg).iter(f"{SVG}rect"):
        is_building = e.get("stroke-width") == "2" and e.get("rx") == "6"
        is_tag = e.get("data-kind") == "cable" and e.get("stroke-width") == "1.5"
        if is_building or is_tag:
            x, y, w, h = (float(e.get(n, "0")) for n in ("x", "y", "width", "height"))
            found.append((x, y, x + w, y + h))
    return found


def test_no_two_boxes_overlap_and_none_leaves_the_picture(reg: fibrebook.Register) -> None:
    """On every site of the demo, buildings and cables keep clear of one another."""
    for site in reg.sites():
        picture = drawn(reg, site)
        found = boxes(picture.svg)
        assert found
        for one, other in itertools.combinations(found, 2):
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (site, one, other)
        assert all(x >= 0 and y >= 0 and r <= picture.width and b <= picture.height for x, y, r, b in found)


def test_counts_are_those_of_spare(reg: fibrebook.Register) -> None:
    """Used is in service and patched; ready and total as `spare` tells them."""
    by_cable = fibrebook.spare(reg, by="cable", site="Campus").set_index("cable")
    for row in site_cables(reg, "Campus").to_dict("records"):
        want = by_cable.loc[row["cable"]]
        assert row["used"] == want["in_service"] + want["patched"]
        assert (row["ready"], row["total"], row["spare"]) == (want["ready"], want["total"], want["spare"])


def test_a_cable_with_both_ends_in_one_enclosure_is_told_in_its_building(reg: fibrebook.Register) -> None:
    """Campus LP1 is a loop in JC7: no line could show it, so it stands as a line of the box."""
    assert "loop in JC7" in drawn(reg, "Campus").svg


def test_the_picture_is_the_same_each_time(reg: fibrebook.Register) -> None:
    """The same records give the same picture, to the last character."""
    assert drawn(reg, "Campus").svg == drawn(reg, "Campus").svg


def test_markup_in_labels_stays_text() -> None:
    """A label that looks like markup is shown as it is written."""
    place = {
        "premises": None,
        "building": "<b>&",
        "room": "",
        "location": "L",
        "kind": "enclosure",
        "label": "P<1>",
        "what": "x",
    }
    picture = site_schematic([place], [], "<script>")
    root = ET.fromstring(picture.svg)
    assert "P<1>" in "".join(root.itertext()) and root.find(f".//{SVG}script") is None


def test_layers_lead_away_from_the_best_joined() -> None:
    """The hub stands at the left, joined boxes are never in one layer, and every joint has a way through its tag."""
    joints = [("hub", "a"), ("hub", "b"), ("hub", "c"), ("a", "d"), ("d", "b")]
    nodes = ["a", "b", "c", "d", "hub", "alone"]
    heights = dict.fromkeys(nodes, 40.0)
    found = placed(nodes, joints, heights, 10.0)
    assert found.layer["hub"] == 0 and found.layer["alone"] == 0
    for j, (a, b) in enumerate(joints):
        assert found.layer[a] != found.layer[b]
        assert found.chains[j][0] == a and found.chains[j][-1] == b and ("joint", j) in found.chains[j]


def test_a_panel_says_every_position_in_words(reg: fibrebook.Register) -> None:
    """The description names each port with its cord and the core behind; the one asked for is marked."""
    rows = panel_rows(reg, "Harbour", "P1")
    picture = panel_picture(rows, asked=lambda r: (r["port"], r["position"]) == ("2", "A"))
    assert "port 2 A: cord PC-017 to P2/2/A; HO-FM/1 core 3, blue tube, green core" in picture.told
    texts = [t for e in ET.fromstring(picture.svg).iter(f"{SVG}text") if (t := e.text)]
    assert sum("asked for" in t for t in texts) == 1
    assert all(f"port {n}" in texts for n in range(1, 25))


def test_a_tray_says_every_splice_in_words(reg: fibrebook.Register) -> None:
    """Each slot is told with both fibres and their colours."""
    rows = tray_rows(reg, "Marina", "J1")
    picture = tray_picture(rows)
    assert picture.told.count("slot") == len(rows) == 36
    assert "tray 1 slot 3: C1 core 3, blue tube, green core, to C2 core 3, green core" in picture.told


def test_nothing_to_show_is_a_picture_too() -> None:
    """An enclosure without ports or splices, and a site without places, give a picture that says so."""
    assert "without ports" in panel_picture([]).svg
    assert "No splices" in tray_picture([]).svg
    assert site_schematic([], [], "Empty").height > 0


def test_the_library_missing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the layout library the error says what to install."""
    import sys

    monkeypatch.setitem(sys.modules, "fast_sugiyama", None)
    with pytest.raises(fibrebook.FibrebookError, match="pip install"):
        placed(["a", "b"], [("a", "b")], {}, 10.0)


def test_pictures_can_be_saved(reg: fibrebook.Register, tmp_path: Path) -> None:
    """The schematic is a whole SVG file by itself."""
    path = drawn(reg, "Harbour").save(tmp_path / "site.svg")
    assert ET.parse(path).getroot().tag == f"{SVG}svg"
