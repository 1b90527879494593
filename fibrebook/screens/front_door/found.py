"""What was found, as the find box shows it: screens that the words ask for, then sites, then things by their kind."""

from __future__ import annotations

from typing import Any

from fibrebook.screens.front_door.addresses import Address
from fibrebook.screens.front_door.rooms import rooms
from fibrebook.snapshot.find import folded_words
from fibrebook.snapshot.find_in_firm import Answer, FoundAtSite

MOST = 8  # of one group; more take another letter
PLURALS = {
    "site": "Sites", "channel": "Channels", "equipment": "Equipment", "enclosure": "Panels, boxes and closures",
    "cable": "Cables", "cord": "Cords", "port": "Ports", "interface": "Interfaces", "core": "Cores",
    "location": "Locations", "snag": "Snags", "visit": "Visits",
}  # fmt: skip
NO_THING = ("site", "snag", "visit")  # what is shown on the page of the site itself


def groups(answer: Answer, typed: str, sites: list[str]) -> list[dict[str, Any]]:
    """Return the groups of the find box, the group of the best hit first; each group's rest is told by its number."""
    out = [{"title": "Screens", "items": items}] if (items := _screens(typed, sites)) else []
    by_kind: dict[str, list[FoundAtSite]] = {}
    for found in answer.found:
        by_kind.setdefault(found.hit.kind, []).append(found)
    for kind, found_here in by_kind.items():
        title = PLURALS.get(kind, kind.capitalize())
        if len(found_here) > MOST:
            title += f" (the first {MOST}: type a cable, panel or site as well)"
        out.append({"title": title, "items": [_item(f) for f in found_here[:MOST]]})
    if out and out[0]["title"] == "Screens" and answer.words:
        answer.words = ""  # the words asked for a screen, which is there
    return out


def _item(found: FoundAtSite) -> dict[str, str]:
    hit = found.hit
    thing = () if hit.kind in NO_THING else hit.start
    label = hit.name if hit.kind == "site" else f"{found.site}: {hit.kind} {hit.name}"
    return {"label": label, "hint": hit.hint, "link": Address("return-visit", found.site, thing).text}


def _screens(typed: str, sites: list[str]) -> list[dict[str, str]]:
    """Return the screens that are named, whole or in part, each at a site that is named besides."""
    words = folded_words(typed).split()
    out = []
    for room in rooms().values():
        named = {*room.words, *folded_words(room.title).split()}
        mine = [w for w in words if len(w) > 2 and any(n.startswith(w) for n in named)]
        rest = [w for w in words if w not in mine]
        if not mine or (len(rest) and len(mine) * 2 < len(words)):
            continue
        at = next((s for s in sites if rest and folded_words(s).startswith(" ".join(rest))), "")
        if rest and not at:
            continue
        label = f"{room.title}: {at}" if at else room.title
        out.append({"label": label, "hint": room.help, "link": Address(room.name, at).text})
    return out
