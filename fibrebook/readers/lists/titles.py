"""What stands above a table or between its lines says: Cable C1, 12 core OS2, from P1 to WB1; Site: Tannery."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from fibrebook.readers.files.limits import Position
from fibrebook.readers.guess.headings import fibre_class_of
from fibrebook.readers.lists.asking import LEAVE_OUT, NOTE, Asking, Said, means_yes
from fibrebook.readers.lists.tables.block import Block
from fibrebook.readers.lists.tables.roles import heading_of, is_heading

_LABEL = r"(?P<v>(?=[^\s,;:()]*\d)[^\s,;:()]+|[A-Z](?![\w]))"
_AFTER_COLON = r"(?P<v>[^,;()\n]+?)(?=\s*(?:[,;()\n]|\s[-–]\s|$))"
_THING = {
    "cable": r"\b(?:fibre |fiber )?(?:cable|kabel|câble|cavo)s?\b(?:\s*(?:no|nr|ref|id|label|name)\b\.?)?",
    "enclosure": r"\b(?:patch ?panel|panel|odf|wall ?box|splice box|closure|patchfeld|enclosure)\b"
    r"(?:\s*(?:no|nr|ref|id)\b\.?)?",
}  # fmt: skip
_SITE = re.compile(r"\b(?:site|premises|property|standort|customer)\s*[:=]\s*(?P<v>[^,;\n]+)", re.IGNORECASE)
_COUNT = re.compile(
    r"(?<![\d./-])(\d{1,4})\s*[-x×]?\s*(?:cores?|fo|f|fibres?|fibers?|fasern?|adern?|strands?|brins?)\b", re.IGNORECASE
)
_CLASS = re.compile(r"\b(os1a|os[12]|om[1-5]|g\.?65[27]\.?[a-d]\d?)\b", re.IGNORECASE)
_BETWEEN = re.compile(
    r"\b(?:from|von)\s+(?P<a>[^,;:()\n]+?)\s+(?:to|nach|bis)\s+(?P<b>[^,;:()\n]+?)(?=\s*(?:[,;:()\n]|$))"
    r"|(?:^|[:,]\s*)(?P<c>[^\s,;:]+)\s*(?:->|→|–>|=>|<->)\s*(?P<d>[^\s,;:]+)",
    re.IGNORECASE,
)
_PLACES = {"panel": "enclosure", "enclosure": "enclosure", "cable": "cable", "site": "site"}


@dataclass
class Context:
    """What titles say for the lines below them: role -> text and the cell that says so."""

    says: dict[str, tuple[str, tuple[str, Position]]] = field(default_factory=dict)


def parts_of(text: str) -> dict[str, str]:
    """Return what a title's words say: cable, enclosure, site, core_count, fibre_class, a_ and b_enclosure."""
    out: dict[str, str] = {}
    site = _SITE.search(text)
    if site:
        out["site"] = site["v"].strip()
    for role, words in _THING.items():
        found = re.search(rf"{words}\s*[:=#]\s*{_AFTER_COLON}", text, re.IGNORECASE)
        # a label without a colon: capitals matter, for "a" is no label
        found = found or re.search(rf"(?i:{words})\s+#?{_LABEL}", text)
        if found and found["v"].strip():
            out[role] = _label_of(found["v"])
    if len(re.findall(r"[;,]\s*[A-Za-z]+[-A-Za-z]*\d+\s*:", text)):
        return {r: v for r, v in out.items() if r == "site"} | {"several": text}  # it tells of several cables
    between = _BETWEEN.search(text)
    if between and not is_heading(text):
        out["a_enclosure"] = (between["a"] or between["c"]).strip()
        out["b_enclosure"] = (between["b"] or between["d"]).strip()
    count = re.search(r"(?i)\b(?:cores?|fibres?|fibers?|adern|fasern)\s*[:=]\s*(\d{1,4})\b", text) or _COUNT.search(
        text
    )
    class_ = _CLASS.search(text)
    if count:
        out["core_count"] = count[1]
    if class_:
        out["fibre_class"] = fibre_class_of(class_[1]) or class_[1].upper()
    return out


def _label_of(text: str) -> str:
    """Return the label at the beginning of what follows a colon: C1 of "C1 Ticket hall P1 to Quay store P2"."""
    plain = text.strip().split(" from ")[0].strip(" -–")
    words = plain.split()
    first = words[0] if words else ""
    return first if len(words) > 2 and any(c.isdecimal() for c in first) else plain


def read_title(
    block: Block, at: Position, asking: Asking, needs: set[str], has: set[str]
) -> tuple[dict[str, str], str]:
    """Return what a title says, and its fate: "used", "title" or "said" (left out), "" (asked).

    Parameters
    ----------
    needs : what the table's columns do not say: "cable", "enclosure"; has : roles that its headings have
    """
    grid, sheet = block.grid, block.grid.sheet.name
    text = grid.text(at)
    said = _said_of(text, asking.said)
    if said is not None:
        return said
    beside = next((c for c in grid.by_row.get(at[0], ()) if c > at[1]), None)
    if is_heading(text.rstrip(":= ")) and beside is not None and (at[0], beside) in block.titles:
        role = heading_of(text.rstrip(":= ")).role
        return ({role: grid.text((at[0], beside))}, "used") if role in ("site", "cable", "enclosure") else ({}, "used")
    before = next((c for c in reversed(grid.by_row.get(at[0], ())) if c < at[1]), None)
    if before is not None and (at[0], before) in block.titles and is_heading(grid.text((at[0], before)).rstrip(":= ")):
        return {}, "used"  # it was taken with the word before it
    found = parts_of(text)
    here = [(sheet, at)]
    if (
        found
        and "cable" not in needs
        and has & {"cable", "cable_core"}
        and set(found) & {"several", "core_count", "fibre_class"}
    ):
        rest = {k: v for k, v in found.items() if k not in ("several", "cable", "core_count", "fibre_class")}
        what = f"{text!r} tells of cables that the lines below name themselves: it is not read. Is it to be left out?"
        answer = asking.ask(f"title {text!r}", here, text, what, (LEAVE_OUT,))
        return rest, "" if answer is None else "said"
    found.pop("several", None)
    if "enclosure" not in needs and has & {"enclosure", "panel_port", "place"}:
        found = {k: v for k, v in found.items() if k not in ("a_enclosure", "b_enclosure")} or {"": ""}
    if {"a_enclosure", "b_enclosure"} & set(found):
        rest = {k: v for k, v in found.items() if k not in ("a_enclosure", "b_enclosure")}
        key = f"ends in title {text!r}"
        what = (
            f"The title {text!r} says from where to where: is {found['a_enclosure']!r} the panel or enclosure at end A "
            f"and {found['b_enclosure']!r} the one at end B?"
        )
        answer = asking.ask(key, here, text, what, ("yes", "no, they are places"))
        return (found if answer and means_yes(answer) else rest), "used" if answer else ""
    if found:
        return {k: v for k, v in found.items() if k}, "used"
    if needs & {"cable", "enclosure"} and re.search(r"\d|^[A-Z]$", text) and len(text) <= 40:
        proposals = [f"{word} {text}" for word in ("cable", "panel") if _PLACES[word] in needs]
        what = f"{text!r} stands above or between lines that name no {' and no '.join(sorted(needs))}: what is it?"
        answer = asking.ask(f"title {text!r}", here, text, what, (*proposals, LEAVE_OUT))
        return (_meant(answer, text) if answer else {}), _fate_of(answer)
    return {}, "title"


def _said_of(text: str, said: Said) -> tuple[dict[str, str], str] | None:
    meaning = said.titles.get(text)
    return None if meaning is None else (_meant(meaning, text), _fate_of(meaning))


def _fate_of(answer: str | None) -> str:
    return "" if answer is None else "said" if answer == LEAVE_OUT else "used"


def _meant(answer: str, text: str) -> dict[str, str]:
    if answer in (LEAVE_OUT, NOTE):
        return {}
    word, _, name = answer.partition(" ")
    role = _PLACES.get(word.casefold())
    return {role: name.strip() or text} if role else {}
