"""The hand-over pack: it tells what the analyses tell, of the part that is the customer's, and nothing runs in it.

The text of one small pack is kept; to renew it, after looking: python tests/test_hand_over.py
"""

from __future__ import annotations

import io
import re
import shlex
import sys
from pathlib import Path

import pypdf
import pytest
import written_commands
from demo_once import make_demo
from paper_text import hostile_register, joined, told, within
from PIL import Image

import fibrebook
from fibrebook.analyses.tested.acceptance import verdict_in_words
from fibrebook.cli import main
from fibrebook.errors import InputError, NotFoundError
from fibrebook.register.photos import keep_photo
from fibrebook.sheets.hand_over.pack import CAUTIONS, Asked, pack_of
from fibrebook.sheets.paper.typesetting import PaperLook

KEPT = Path(__file__).parent / "golden" / "hand_over_boatyard.txt"
OWN = "Unit 1: sign makers (invented)"
DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?=, commit)")


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo register."""
    where = tmp_path_factory.mktemp("hand-over") / "r"
    make_demo(where)
    return fibrebook.open(where)


@pytest.fixture(scope="module")
def campus(demo, tmp_path_factory):
    """The file that the README's command makes, run as it stands."""
    (line,) = [w.text for w in written_commands.written("README.md") if "hand-over" in w.text]
    folder = tmp_path_factory.mktemp("readme")
    (folder / "demo-register").symlink_to(demo.where)
    with pytest.MonkeyPatch.context() as m, pytest.raises(SystemExit) as ended:
        m.chdir(folder)
        main(shlex.split(line)[1:])
    assert ended.value.code == 0
    (made,) = folder.glob("*.pdf")
    return made


def pack(reg, site, **asked) -> bytes:
    """The PDF of a pack."""
    return pack_of(reg, site, Asked(**asked), PaperLook())


def pages(data: bytes) -> list[str]:
    """The text of each page, blanks run together, the day of the register's making left out."""
    found = pypdf.PdfReader(io.BytesIO(data)).pages
    return [DAY.sub("DAY", " ".join(p.extract_text().replace("\u200b", "").split())) for p in found]


def test_a_small_pack_is_as_it_was_looked_at(demo):
    """Every page of a small site's pack says what it said when its pages were looked at, blanks aside."""
    assert joined("\n".join(pages(pack(demo, "Boatyard")))) == joined(KEPT.read_text(encoding="utf-8"))


def test_the_pack_of_the_biggest_site_is_small_enough_to_be_sent(demo, campus):
    """912 cores, 2,064 ports and 562 tests are at most 1 MB; contents name each cable and panel and lead to its page."""
    assert campus.stat().st_size <= 1_000_000
    found = pypdf.PdfReader(campus).pages
    contents = " ".join(" ".join(p.extract_text().split()) for p in found[1:3])
    at = {
        name: int(page)
        for name, page in re.findall(r"(Cable \S+:|Panel \S+|JC7: trays|Tests)(?: cores)?[ .\u2060]+(\d+)", contents)
    }
    things = {f"Cable {c}:" for c in demo.table("cables", "Campus").cable}
    things |= {f"Panel {e}" for e in demo.table("ports", "Campus").enclosure.unique()}
    assert set(at) == things | {"JC7: trays", "Tests"} and len(found) > at["Tests"] > 60
    for name, number in [*sorted(at.items())[::9], ("JC7: trays", at["JC7: trays"])]:
        text = " ".join(found[number - 1].extract_text().split())
        assert text.startswith(f"Campus {name}") and text.endswith(f"page {number} of {len(found)}")
    tests = found[at["Tests"] - 1].extract_text()
    assert len(re.findall(r"(?:1310|1550) (?:a to b|b to a) \d", tests)) > 40


def test_each_loss_test_stands_beside_its_limit(demo):
    """Loss, limit, margin and verdict are those of `acceptance`, with reference method, instrument and edition above."""
    text = joined(" ".join(page for page in pages(pack(demo, "Mill")) if page.startswith("Mill Tests")))
    judged = fibrebook.acceptance(demo, "Mill")
    for t in judged[judged.later_test.isna()].to_dict("records"):
        ends = [
            "/".join(t[f"{e}_{c}"] for c in ("at", "port", "position") if isinstance(t[f"{e}_{c}"], str))
            for e in ("from", "to")
        ]
        figures = "".join(f"{t[c]:.2f}" for c in ("loss_db", "limit_db", "margin_db"))
        verdict = verdict_in_words(t["verdict"], t["side"])
        assert joined(f"{''.join(ends)}{t['wavelength_nm']}{t['direction']}{figures}{verdict}") in text
    for t in judged.drop_duplicates(["reference_method", "edition"]).to_dict("records"):
        assert joined(f"reference method {t['reference_method']}; source and meter, set") in text
        assert joined(f"; limits of {t['edition']}") in text


def test_the_calibration_date_and_the_warranty_come_from_the_firm_s_files(demo, tmp_path):
    """A list of instruments puts the date beside each; a warranty is printed to its last word; wrong files are named."""
    dates, warranty = tmp_path / "dates.csv", tmp_path / "warranty.txt"
    dates.write_text("instrument;calibrated_on\nsource and meter, set 1;2025-01-10\n", encoding="utf-8")
    warranty.write_text("We answer for splices.\n\n" + "word " * 3000 + "#panic(1) end.", encoding="utf-8")
    text = told(pack(demo, "Boatyard", calibrations=dates, warranty=warranty))
    assert "source and meter, set 1; calibrated on 2025-01-10" in text and "We answer for splices." in text
    assert text.count("word ") == 3000 and "#panic(1) end." in text
    dates.write_text("instrument,calibrated_on\nmeter,soon\n", encoding="utf-8")
    with pytest.raises(InputError, match="row 2: 'soon' is no day"):
        pack(demo, "Boatyard", calibrations=dates)
    warranty.write_bytes(b"\xff\xfe\x00")
    for wrong in (warranty, tmp_path, tmp_path / "none.txt"):
        with pytest.raises(InputError, match="warranty"):
            pack(demo, "Boatyard", warranty=wrong)


def plant(folder):
    """A register of three states: C1 and C2 were there, then a core of C2 was made off and C3 pulled."""
    reg = fibrebook.create(folder / "r")
    cable = {"site": "Mill", "core_count": 2, "a_enclosure": "P1", "b_enclosure": "P2"}
    with reg.edit("ab", "what was there") as edit:
        edit.put("sites", [{"site": "Mill"}])
        edit.put("enclosures", [{"site": "Mill", "enclosure": e, "kind": "rack panel"} for e in ("P1", "P2", "P3")])
        edit.put("ports", [{"site": "Mill", "enclosure": "P1", "port": "1"}])
        edit.put("cables", [cable | {"cable": c} for c in ("C1", "C2")])
    with reg.edit("ab", "our work") as edit:
        edit.put("terminations", [{"site": "Mill", "enclosure": "P1", "port": "1", "cable": "C2", "core": 1}])
        edit.put("cables", [cable | {"cable": "C3"}])
    return reg


def test_the_scope_says_what_was_done_what_was_there_and_what_was_left_alone(tmp_path):
    """New, worked on, and not touched, each by the history of a period; work is counted as invoice lines count it."""
    reg = plant(tmp_path)
    (scope,) = [p for p in pages(pack(reg, "Mill", since=1)) if p.startswith("Mill Scope")]
    parts = re.split(
        r"What we did|What was there already, and we worked on|What was there already, and we did not touch", scope
    )
    assert len(parts) == 4 and "Recorded after DAY, commit 1 and until DAY, commit 2." in parts[0]
    for line in fibrebook.invoice_lines(reg, 1, None, "Mill").to_dict("records"):
        assert f"{line['work']} {line['quantity']:g} {line['unit']}" in parts[1]
    assert parts[1].split("New:")[1].strip() == "Cables C3"
    assert parts[2].strip() == "Cables C2 Panels and closures P1"
    assert parts[3].strip().startswith("Cables C1 Panels and closures P2, P3")
    whole = " ".join(pages(pack(reg, "Mill", until=2)))
    assert "Recorded after the beginning of the register" in whole and "worked on" not in whole
    assert "Scope" not in " ".join(pages(pack(reg, "Mill")))
    with pytest.raises(NotFoundError):
        pack(reg, "Mill", since=99)


def test_no_name_is_cut_off_a_long_scope(tmp_path):
    """However many things were there, the scope names each of them."""
    reg = plant(tmp_path)
    many = [f"rack panel {n} of a long row" for n in range(60)]
    with reg.edit("ab", "more") as edit:
        edit.put("enclosures", [{"site": "Mill", "enclosure": e} for e in many])
    scope = joined(" ".join(p for p in pages(pack(reg, "Mill", since=2)) if p.startswith("Mill Scope")))
    assert all(joined(e) in scope for e in many) and "lettersinall" not in scope


def test_of_a_shared_site_only_the_customer_s_part_is_told(demo):
    """No channel, equipment, panel, premises, person or snag of a neighbour stands in the pack of one premises."""
    text = told(pack(demo, "Units", premises=OWN, since=1))
    locations = demo.table("locations", "Units").set_index("location").premises
    ends = {e for c in demo.table("cables", "Units").to_dict("records") for e in (c["a_enclosure"], c["b_enclosure"])}
    said = {OWN}
    for kind, column in (("enclosures", "enclosure"), ("equipment", "equipment")):
        for row in demo.table(kind, "Units").to_dict("records"):
            if locations[row["location"]] == OWN:
                said.add(row[column])
            elif row[column] not in ends:
                assert not re.search(rf"(?<![\w-]){re.escape(row[column])}(?![\w-])", text), row[column]
    assert all(label in text for label in said) and "other premises" in text
    for other in set(locations.dropna()) - {OWN}:
        assert f"({other}" not in text and f"{other} " not in text.replace("landlord's", "")
    for channel in demo.table("channels", "Units").to_dict("records"):
        mine = {channel["a_equipment"], channel["b_equipment"]} & said
        assert bool(re.search(rf"\b{channel['channel']}\b", text)) == bool(mine)
    site = demo.table("sites", "Units").iloc[0]
    assert site.customer not in text and site.contact not in text and site.address not in text
    with pytest.raises(NotFoundError, match="did you mean 'Unit 1: sign makers"):
        pack(demo, "Units", premises="Unit 1: sign maker")


def test_nothing_personal_where_none_is_wanted(demo):
    """Address, contact and initials are told or left out together; access notes never stand in a pack."""
    site = demo.table("sites", "Boatyard").iloc[0]
    full, bare = told(pack(demo, "Boatyard")), told(pack(demo, "Boatyard", personal=False))
    assert site.contact in full and site.address in full and site.access not in full
    assert site.contact not in bare and site.address not in bare and site.access not in bare
    initials = set(demo.table("tests", "Boatyard").tested_by.dropna())
    assert initials and all(re.search(rf"\b{i}\b", full) and not re.search(rf"\b{i}\b", bare) for i in initials)


def test_photos_stand_small_with_what_is_seen_and_a_lost_one_says_so(tmp_path):
    """A photo of many megapixels is made small; one that cannot be read leaves its words."""
    reg = plant(tmp_path)
    large = io.BytesIO()
    Image.effect_noise((3000, 2000), 80).convert("RGB").save(large, "JPEG", quality=95)
    with reg.edit("ab", "photos") as edit:
        good = keep_photo(reg, large.getvalue())
        edit.put("photos", [{"site": "Mill", "photo": "F1", "file": good, "what": "the *panel*", "where": "P1"},
                            {"site": "Mill", "photo": "F2", "file": "0123456789abcdef.jpg", "what": "the duct"}])  # fmt: skip
    data = pack(reg, "Mill")
    assert len(data) < 600_000 < len(large.getvalue())
    (page,) = [p for p in pages(data) if p.startswith("Mill Photos")]
    assert "the *panel*. P1" in page and "the duct: this photo cannot be shown" in page
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert max(max(i.image.size) for p in reader.pages for i in p.images) == 1100


def test_a_site_of_which_nothing_is_known_has_no_blank_pages(tmp_path):
    """Cover, contents and cautions are all that is told of an empty site; what has no content has no page."""
    reg = fibrebook.create(tmp_path / "r")
    with reg.edit("ab", "x") as edit:
        edit.put("sites", [{"site": "Mill"}])
    found = pages(pack(reg, "Mill"))
    assert len(found) == 3 and found[2].startswith("Mill Cautions")
    assert all(joined(text) in joined(found[2]) for text in CAUTIONS)
    with pytest.raises(NotFoundError):
        pack(reg, "Barn")


def test_hostile_text_is_text_in_every_part(tmp_path):
    """Markup, formulas, bidirectional signs, endless words in every field: pages stand, nothing runs, nothing is read."""
    text = within(pack(hostile_register(tmp_path), "S", since=0))
    assert text.count(joined('#panic("ran")')) > 10 and "root:" not in text and "\u202e" not in text


def test_a_file_that_is_there_is_not_written_over(demo, tmp_path, campus):
    """The command's file stays as it is the second time; the function writes on Letter, tagged for screen readers."""
    with pytest.raises(InputError, match="is there already"):
        fibrebook.hand_over(demo, "Boatyard", campus)
    file = fibrebook.hand_over(demo, "Boatyard", tmp_path / "b.pdf", look=PaperLook("Letter", tagged=True))
    assert "/StructTreeRoot" in pypdf.PdfReader(file).trailer["/Root"]


if __name__ == "__main__":
    import tempfile

    sys.path.insert(0, str(Path(__file__).parent))
    place = Path(tempfile.mkdtemp()) / "r"
    make_demo(place)
    KEPT.write_text("\n".join(pages(pack(fibrebook.open(place), "Boatyard"))) + "\n", encoding="utf-8")
