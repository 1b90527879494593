"""What is handed out or taken along: it tells what the analyses tell, as text, whatever people typed."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from demo_once import make_demo

import fibrebook
from fibrebook.cli import main
from fibrebook.errors import InputError, NotFoundError
from fibrebook.sheets.written import write_sheet

TRICKS = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "=HYPERLINK(1)", "x</details>"]
FOLDED = {"details", "summary", "ul", "li", "div", "dl", "dd", "p", "html", "body", "main", "nav", "header", "h1", "h2"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo register."""
    where = tmp_path_factory.mktemp("sheets") / "r"
    make_demo(where)
    return fibrebook.open(where)


@pytest.fixture(scope="module")
def campus(demo):
    """The page of the largest site, as it is parsed."""
    return Parsed(fibrebook.site_page(demo, "Campus"))


class Parsed(HTMLParser):
    """A page: its words, ids, links, elements that fetch, and whether what was opened was closed in order."""

    def __init__(self, text):
        super().__init__()
        self.text, self.ids, self.links, self.attributes, self.open, self.words = text, [], [], [], [], []
        self.quiet = 0
        self.feed(text)
        self.shown = " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag, attrs):
        """Note what an element says."""
        told = dict(attrs)
        self.attributes += [(tag, name, value) for name, value in attrs]
        self.ids += [told["id"]] if "id" in told else []
        self.links += [told["href"]] if tag == "a" else []
        self.quiet += tag in ("script", "style")
        if tag in FOLDED:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close what was opened last."""
        self.quiet -= tag in ("script", "style")
        if tag in FOLDED:
            assert self.open.pop() == tag

    def handle_data(self, data):
        """Keep what is read."""
        self.words += [] if self.quiet else [data]


def test_every_core_stands_on_the_page_as_the_cross_reference_tells_it(demo, campus):
    """Each core with its colours in words, state, channel, and both ends; no second reckoning."""
    for row in fibrebook.cross_reference(demo, "Campus").fillna("").to_dict("records")[::7]:
        worn = [(row[f"{p}_colour"], p, row[f"{p}_tracer"]) for p in ("tube", "core") if row[f"{p}_colour"]]
        colours = ", ".join(f"{colour} {part}{f' with {tracer}' if tracer else ''}" for colour, part, tracer in worn)
        told = " ".join(str(part) for part in (row["core"], colours, row["state"], row["channel"]) if part)
        assert told in campus.shown
        for end in "ab":
            if row[f"{end}_port"]:
                assert (
                    "/".join(row[f"{end}_{p}"] for p in ("enclosure", "port", "position") if row[f"{end}_{p}"])
                    in campus.shown
                )


def test_what_goes_dark_is_what_the_analysis_says(demo, campus):
    """Each cable names the channels that a cut would end."""
    for cable in demo.table("cables", "Campus").cable:
        dark = fibrebook.goes_dark(demo, "Campus", ("cable", cable))
        part = campus.text.partition(f'data-l="cable {cable}"')[2].partition("<ul")[0]
        assert re.findall(r"CH\d+", part) == dark.channel.tolist()


def test_links_lead_somewhere_and_nothing_is_fetched(campus):
    """Every link is to a place on the page, ids are single, no element has an address of its own."""
    assert len(set(campus.ids)) == len(campus.ids) and not campus.open
    assert {link.removeprefix("#") for link in campus.links} <= set(campus.ids)
    assert not [a for a in campus.attributes if a[1] in ("src", "srcset", "action", "poster")]
    assert not re.search(r"https?:|url\(|@import", campus.text)
    assert len(campus.text.encode()) < 600_000


def test_contacts_are_named_only_if_asked_for(demo):
    """A page travels: whom to ask for stands on it only by choice."""
    contact = demo.table("sites", "Campus").contact[0]
    assert contact not in fibrebook.site_page(demo, "Campus") and contact in fibrebook.site_page(
        demo, "Campus", contacts=True
    )


def test_typed_text_is_text(tmp_path):
    """Markup, templates and ends of elements in any label or note are shown as typed, and run nowhere."""
    reg = fibrebook.create(tmp_path / "r", name=TRICKS[0])
    with reg.edit("ab", "x") as edit:
        for n in TRICKS:
            edit.put(
                "sites", [{"site": n, "name": n, "customer": n, "access": n, "hazards": n, "notes": n, "contact": n}]
            )
            edit.put("locations", [{"site": n, "location": n, "room": n}])
            edit.put(
                "enclosures", [{"site": n, "enclosure": f"{n} {e}", "location": n, "kind": "rack panel"} for e in "AB"]
            )
            edit.put("cables", [{"site": n, "cable": n, "a_enclosure": f"{n} A", "b_enclosure": f"{n} B", "core_count": 2,
                                 "route": n}])  # fmt: skip
            edit.put("ports", [{"site": n, "enclosure": f"{n} A", "port": n}])
            edit.put("terminations", [{"site": n, "enclosure": f"{n} A", "port": n, "cable": n, "core": 1}])
            edit.put("equipment", [{"site": n, "equipment": n, "location": n, "kind": n}])
            edit.put("snags", [{"site": n, "snag": n, "what": n, "where": n}])
    for n in TRICKS:
        for text in (fibrebook.site_page(reg, n, contacts=True), fibrebook.next_visit(reg, n)):
            page = Parsed(text)
            assert not page.open and not [a for a in page.attributes if a[1].startswith("on") or a[0] == "img"]
            assert page.shown.count(" ".join(n.split())) >= 5


def test_an_empty_site_has_a_page(tmp_path):
    """A site of which nothing is known yet says so, line by line."""
    reg = fibrebook.create(tmp_path / "r")
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "Mill"}])
    assert Parsed(fibrebook.site_page(reg, "Mill")).shown.count("not recorded") == 4
    assert "Nothing that the records ask for." in fibrebook.next_visit(reg, "Mill")
    for sheet in (fibrebook.site_page, fibrebook.next_visit, fibrebook.van_list):
        with pytest.raises(NotFoundError):
            sheet(reg, "Barn")


def test_the_van_holds_a_pigtail_for_each_half_terminated_core(demo):
    """As many pigtails and protectors as cores are half-terminated, of the connector that the panel there has."""
    for site in demo.sites():
        van = fibrebook.van_list(demo, site)
        half = int(fibrebook.spare(demo, site=site).half_terminated.sum())
        assert van[van["item"].str.startswith("pigtail")]["count"].sum() == half
        assert van[van["item"] == "splice protector"]["count"].sum() == half
    boat = fibrebook.van_list(demo, "Boatyard")
    assert boat["why"].str.contains("temporary cord PC-003").any()
    assert "LC/UPC, OS2" in fibrebook.van_list(demo, "Campus")["item"][0]


def test_a_pigtail_is_for_the_end_that_is_open(tmp_path):
    """A core made off at end B alone wants its pigtail at end A; a bare end is not said to be joined to itself."""
    reg = fibrebook.create(tmp_path / "r")
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "Mill"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e} for e in ("P1", "P2")])
        edit.put("ports", [{"site": "Mill", "enclosure": "P2", "port": "1"}])
        edit.put("cables", [{"site": "Mill", "cable": "C1", "core_count": 1, "a_enclosure": "P1", "b_enclosure": "P2"}])
        edit.put("terminations", [{"site": "Mill", "enclosure": "P2", "port": "1", "cable": "C1", "core": 1}])
    assert fibrebook.van_list(reg, "Mill")["at"][0] == "P1"
    shown = Parsed(fibrebook.site_page(reg, "Mill")).shown
    assert "P1, not joined" in shown and "joined → C1" not in shown


def test_the_next_visit_names_what_is_open(demo):
    """Open snags, what advice says, the van and the hazards; what is settled is not on it."""
    shown = Parsed(fibrebook.next_visit(demo, "Campus")).shown
    for row in demo.table("snags", "Campus").to_dict("records"):
        assert (f"{row['snag']}, found" in shown) == (row["done_on"] != row["done_on"] or row["done_on"] is None)
    assert "Half-terminated" in shown and "72 × splice protector" in shown and "permit to work" in shown


def test_invoice_lines_count_what_came_in_between(demo, tmp_path):
    """New records count once by kind of work; with prices each line has its amount; a visit is its commit."""
    done = fibrebook.invoice_lines(demo, 3, 4, prices={"fusion splice": 4.5}).set_index(["site", "work"])
    splices = fibrebook.open(demo.where, at=4).table("splices", "Campus")
    line = done.loc[("Campus", "fusion splice")]
    assert (line.quantity, line.amount) == (len(splices), 4.5 * len(splices))
    metres = fibrebook.open(demo.where, at=4).table("cables", "Campus").length_m.sum()
    assert done.loc[("Campus", "cable pulled")].quantity == pytest.approx(metres)
    assert fibrebook.invoice_lines(demo, 6, 6).empty
    visit = fibrebook.invoice_lines(demo, site="Mill", visit="V1")
    assert visit.set_index("work").quantity["test, OTDR"] == (demo.table("tests", "Mill").method == "OTDR").sum()
    for wrong in ({"visit": "V1"}, {"site": "Mill", "visit": "V1", "earlier": 3}):
        with pytest.raises(InputError):
            fibrebook.invoice_lines(demo, **wrong)
    with pytest.raises(NotFoundError):
        fibrebook.invoice_lines(demo, site="Mill", visit="V99")


def test_prices_are_read_or_refused_line_by_line(demo, tmp_path, capsys):
    """A comma for the point, where semicolons part the fields; a price that is none is named by its line."""
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text("work;price\nfusion splice;4,50\n", encoding="utf-8")
    bad.write_text("work,price\nfusion splice,dear\n", encoding="utf-8")
    ask = ["-r", str(demo.where), "invoice-lines", "--site", "Campus"]
    with pytest.raises(SystemExit) as ended:
        main([*ask, "--prices", str(bad)])
    assert ended.value.code == 1 and "row 2: 'dear' is no price" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main([*ask, "--prices", str(good), "--csv", str(tmp_path / "out.csv")])
    assert re.search(r"^Campus,fusion splice,36\.0,piece,4\.5,162\.0$", (tmp_path / "out.csv").read_text(), re.M)


def test_a_sheet_is_whole_or_not_there(tmp_path):
    """Nothing is written over unless asked, and a folder that is not there is said."""
    file = write_sheet("one", tmp_path / "a.html")
    with pytest.raises(InputError, match="is there already"):
        write_sheet("two", file)
    assert write_sheet("two", file, force=True).read_text() == "two"
    with pytest.raises(InputError, match="there is no folder"):
        write_sheet("one", tmp_path / "none" / "a.html")
    assert [p.name for p in Path(tmp_path).iterdir()] == ["a.html"]


def test_a_cord_of_two_strands_is_one_cord_and_a_test_made_good_is_none_that_failed(tmp_path):
    """What is charged are cords, not strands; the van holds nothing for a failure that a later test stands against."""
    reg = fibrebook.create(tmp_path / "r")
    test = {"site": "Mill", "test": "T1", "cable": "C1", "core": 1, "method": "OTDR", "wavelength_nm": 1310}
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "Mill"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e} for e in ("P1", "P2")])
        edit.put("ports", [{"site": "Mill", "enclosure": e, "port": p} for e in ("P1", "P2") for p in ("1", "2")])
        edit.put("cables", [{"site": "Mill", "cable": "C1", "core_count": 4}])
        edit.put("patches", [{"site": "Mill", "cord": "K1", "strand": n, "a_at": "P1", "a_port": n, "b_at": "P2",
                              "b_port": n} for n in ("1", "2")])  # fmt: skip
        edit.put("tests", [test | {"verdict": "fail", "tested_on": "2026-01-02"}])
    assert fibrebook.invoice_lines(reg).set_index("work").quantity["cord fitted"] == 1
    assert fibrebook.van_list(reg, "Mill")["why"].str.contains("1 failed test").any()
    with reg.edit("ab", "mended") as edit:
        edit.put("tests", [test | {"test": "T2", "verdict": "pass", "tested_on": "2026-01-03"}])
    assert not fibrebook.van_list(reg, "Mill")["why"].str.contains("failed").any()
    with pytest.raises(NotFoundError, match="did you mean 'Mill'"):
        fibrebook.van_list(reg, "Mil")
