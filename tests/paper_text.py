"""What the tests of paper share: the text of a PDF, whether it stands within its pages, a plant of hostile text."""

from __future__ import annotations

import io
import re

import pypdf

import fibrebook
from fibrebook.sheets.paper.printed_text import BREAK

HOSTILE = [
    '#panic("ran")', '#import "@preview/x:1.0.0"', "$x^2$ `raw` *bold* _it_ <label> @ref // gone /* gone */ \\u{41}",
    "<script>alert(1)</script>", "=HYPERLINK(1)", "'); #read(\"/etc/passwd\")", "\u202eevil\u2066", "W" * 32_000,
    "#sys.inputs", "{day} {x}", '"]}', "--- ... ~",
]  # fmt: skip


def told(data: bytes) -> str:
    """The text of a PDF, page after page, blanks run together and soft breaks gone."""
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    return " ".join(" ".join(p.extract_text().replace(BREAK, "").split()) for p in pages)


def joined(text: str) -> str:
    """A text without its blanks: where a line broke does not matter."""
    return re.sub(r"\s|\u200b", "", text)


def within(data: bytes) -> str:
    """The text of a PDF, blanks gone; no letter begins outside its page, and nothing in the file would run or fetch."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert not any(key in str(reader.trailer["/Root"]) for key in ("/JavaScript", "/OpenAction", "/EmbeddedFiles"))
    found: list[str] = []
    for page in reader.pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)

        def look(text, cm, tm, font, size, width=width, height=height):
            if text.strip():
                x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
                assert -1 <= x <= width and -1 <= y <= height, (text[:40], x, y)

        found.append(page.extract_text(visitor_text=look))
        actions = [n.get_object().get("/A") for n in page.get("/Annots") or ()]
        assert {a["/S"] for a in actions if a} <= {"/GoTo"}
    return joined(" ".join(found))


def hostile_register(folder):
    """Return a register with something hostile in every text field of a plant."""
    reg = fibrebook.create(folder / "r", name=HOSTILE[0])
    labels = [t.translate(dict.fromkeys((0x202E, 0x2066)))[:150] for t in HOSTILE]
    with reg.edit("ab", "x") as edit:
        edit.put(
            "sites",
            [{"site": "S", "name": HOSTILE[0], "customer": HOSTILE[1], "hazards": HOSTILE[7], "notes": HOSTILE[6]}],
        )
        edit.put("locations", [{"site": "S", "location": n, "building": t, "room": t, "rack": t}
                               for n, t in zip(labels, HOSTILE, strict=True)])  # fmt: skip
        edit.put("enclosures", [{"site": "S", "enclosure": f"{n} {e}", "location": n, "kind": "rack panel", "notes": t}
                                for n, t in zip(labels, HOSTILE, strict=True) for e in "AB"])  # fmt: skip
        edit.put("cables", [{"site": "S", "cable": n, "a_enclosure": f"{n} A", "b_enclosure": f"{n} B", "core_count": 2,
                             "route": t, "sheath": t, "colour_code": t[:50].strip()} for n, t in zip(labels, HOSTILE, strict=True)])  # fmt: skip
        edit.put("cores", [{"site": "S", "cable": n, "core": 1, "reserved_for": t, "notes": t, "fault_m": 1.5, "condition": "faulty"}
                           for n, t in zip(labels, HOSTILE, strict=True)])  # fmt: skip
        edit.put("ports", [{"site": "S", "enclosure": f"{n} A", "port": n, "position": "p"} for n in labels])
        edit.put("splices", [{"site": "S", "enclosure": f"{n} A", "tray": n, "slot": n, "a_cable": n, "a_core": 1,
                              "b_cable": n, "b_core": 2} for n in labels])  # fmt: skip
        edit.put(
            "snags", [{"site": "S", "snag": n, "what": t, "where": t} for n, t in zip(labels, HOSTILE, strict=True)]
        )
        edit.put(
            "equipment",
            [
                {"site": "S", "equipment": f"{n} e", "location": n, "kind": t}
                for n, t in zip(labels, HOSTILE, strict=True)
            ],
        )
    return reg
