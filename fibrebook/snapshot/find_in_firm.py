"""Find anything of the whole firm from one line: sites, people, labels, cores by colour, in the order of likelihood."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING, Any

from fibrebook.snapshot.find import Finder, Hit, folded_words
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.words.labels import natural

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

ALL_THROUGH = 60  # a firm of so many sites is searched through; of a larger one the sites used lately, and those named
MOST = 60
CLOSE = 0.7  # likeness of a word to the one meant, where nothing matches it as it stands
SAID_OF_SITE = ("site", "name", "customer", "contact", "address", "access", "hazards", "notes")


@dataclass(frozen=True)
class FoundAtSite:
    """Something found at a site; why: which words of it matched; rank: 0 = the very label, higher = less like it."""

    site: str
    hit: Hit
    why: str
    rank: int


@dataclass
class Answer:
    """What was found, best first; `total` may be more; `words` say what was not found, or what was taken instead."""

    found: list[FoundAtSite] = field(default_factory=list)
    total: int = 0
    words: str = ""


class FirmFinder:
    """Finds in the register as it is at one commit; what it reads of a site it keeps.

    Parameters
    ----------
    lately : sites that stand first among equals, and in a large firm are searched through
    """

    def __init__(self, reg: Register, lately: Sequence[str] = ()) -> None:
        self.reg, self.commit = reg, reg.commit
        self.lately = list(lately)
        self._finders: dict[str, Finder] = {}

    @cached_property
    def sites(self) -> dict[str, dict[str, Any]]:
        """The rows of the table of sites, by label."""
        rows = self.reg.tables(names=["sites"])["sites"].to_pylist()
        return {r["site"]: r for r in sorted(rows, key=lambda r: natural(r["site"]))}

    @cached_property
    def _said(self) -> dict[str, str]:
        return {s: f" {folded_words(' '.join(str(r[c] or '') for c in SAID_OF_SITE))} " for s, r in self.sites.items()}

    @cached_property
    def _names(self) -> dict[str, str]:
        names = ("site", "name", "customer")
        return {s: f" {folded_words(' '.join(str(r[c] or '') for c in names))} " for s, r in self.sites.items()}

    def finder(self, site: str) -> Finder:
        """Return the finder of one site, read when it is first asked for."""
        if site not in self._finders:
            self._finders[site] = Finder(PlantSnapshot.of(self.reg, site), more=("snags", "visits"))
        return self._finders[site]

    def to_read(self) -> Iterator[str]:
        """Give the sites that a search goes through and that are not read yet: to be read while nobody waits."""
        return (s for s in self._searched(()) if s not in self._finders)

    def _searched(self, named: Iterable[str]) -> list[str]:
        known = self.sites
        lately = [s for s in self.lately if s in known]
        rest = known if len(known) <= ALL_THROUGH else ()
        return list(dict.fromkeys([*lately, *list(named)[:ALL_THROUGH], *rest]))

    def find(self, typed: str, here: str = "", most: int = MOST) -> Answer:
        """Return what some words may mean.

        Parameters
        ----------
        typed : every word begins a word of a label or of what is said of it; a site's name among them asks for that
            site; a colour and a number ("orange 7") ask for cores
        here : the site that is looked at: stands first among equals
        """
        words = folded_words(typed).split()
        if not words:
            return Answer()
        answer = self._find(typed, here, most)
        if answer.found:
            return answer
        meant = self._meant(words)
        if meant != words:
            answer = self._find(" ".join(meant), here, most)
            if answer.found:
                changed = [f"“{a}” as “{b}”" for a, b in zip(words, meant, strict=True) if a != b]
                answer.words = f"Nothing matches “{typed.strip()}”. Shown is what matches with {', '.join(changed)}."
                return answer
        return self._nothing(typed, words, here, most)

    def _nothing(self, typed: str, words: list[str], here: str, most: int) -> Answer:
        """Say in words that nothing was found, with what the longest part of it finds."""
        told = f"Nothing in the register matches “{typed.strip()}”."
        parts = [[*words[:i], *words[i + 1 :]] for i in range(len(words))] if len(words) > 1 else []
        for part in parts:
            near = self._find(" ".join(part), here, most)
            if near.found:
                near.words = f"{told} Shown is what matches “{' '.join(part)}”."
                return near
        return Answer(
            words=f"{told} Try part of a label (a cable, port, panel), a core by its colour and number (orange 7), "
            "a site or a customer."
        )

    def _find(self, typed: str, here: str, most: int) -> Answer:
        words = folded_words(typed).split()
        begins = {w: f" {w}" for w in words}
        found = list(self._sites_by(words))
        named = {s: [w for w in words if begins[w] in text] for s, text in self._names.items()}
        named = {s: mine for s, mine in named.items() if mine and len(mine) < len(words)}
        order = {s: i for i, s in enumerate(dict.fromkeys([*([here] if here else []), *self.lately, *self.sites]))}
        by_name = sorted(named, key=lambda s: (-len(named[s]), order[s]))
        for site in self._searched(by_name):
            finder = self.finder(site)
            ranked = finder.ranked(typed)
            if not ranked and site in named:
                rest = _without(typed, named[site])
                ranked = [(max(0, rank - 1), hit) for rank, hit in finder.ranked(rest)]
            found += [FoundAtSite(site, hit, _why(hit, rank), rank) for rank, hit in ranked]
        found.sort(key=lambda f: (f.rank, f.hit.kind != "site", f.site != here, f.rank > 3, order[f.site]))
        return Answer(found[:most], len(found))

    def _sites_by(self, words: list[str]) -> Iterator[FoundAtSite]:
        whole = " ".join(words)
        for site, text in self._said.items():
            if not all(f" {w}" in text for w in words):
                continue
            row = self.sites[site]
            own = folded_words(site)
            rank = 0 if own == whole else 1 if own.startswith(whole) else 2 if whole in self._names[site] else 3
            told = ", ".join(str(row[c]) for c in ("name", "customer") if row[c] and row[c] != site)
            where = [c for c in SAID_OF_SITE[3:] if row[c] and any(w in folded_words(row[c]) for w in words)]
            why = "" if rank < 3 and not where else f"{where[0]}: {row[where[0]]}" if where else ""
            yield FoundAtSite(site, Hit("site", site, ", ".join(filter(None, [told, why])), ("site",)), why, rank)

    def _meant(self, words: list[str]) -> list[str]:
        """Return the words, each that begins no word of the register by the one most like it."""
        there: set[str] = {w for text in self._said.values() for w in text.split()}
        for site in self._searched(()):
            there |= self.finder(site).vocabulary
        meant = []
        for word in words:
            if any(t.startswith(word) for t in there):
                meant.append(word)
                continue
            near = [t for t in there if abs(len(t) - len(word)) <= 2 and t.isdecimal() == word.isdecimal()]
            close = [] if word.isdecimal() or len(word) < 3 else get_close_matches(word, near, 1, CLOSE)
            meant.append(close[0] if close else word)
        return meant


def _without(typed: str, words: Sequence[str]) -> str:
    """Return what was typed without some words of it; what stands between the others stays where it can."""
    left = [w for w in folded_words(typed).split() if w not in words]
    kept = " ".join(part for part in typed.split() if not set(folded_words(part).split()) <= set(words))
    return kept if folded_words(kept).split() == left else " ".join(left)


def _why(hit: Hit, rank: int) -> str:
    return "label" if rank <= 3 and hit.kind != "core" else hit.hint or "label"


def find(reg: Register, words: str, site: str | None = None, most: int = MOST) -> pd.DataFrame:
    """Find anything by part of its label, by what is said of it, or a core by its colour and number ("orange 7").

    Parameters
    ----------
    words : each begins a word of the label or of what is said of it; a site's name among them asks for that site
    site : look there only; None = the whole firm
    most : rows returned at most

    Returns
    -------
    DataFrame, best first: site, kind, key (what `trace` takes as start where it is on a path), label, found_in (the
    words that matched), score (1 = the very label, towards 0)

    Raises
    ------
    NotFoundError : no such site
    """
    import pandas as pd

    finder = FirmFinder(reg)
    if site is not None:
        ranked = finder.finder(site).ranked(words)
        found = [FoundAtSite(site, hit, _why(hit, rank), rank) for rank, hit in ranked[:most]]
    else:
        found = finder.find(words, most=most).found
    rows = [(f.site, f.hit.kind, f.hit.start, f.hit.name, f.why, round(1 / (1 + f.rank), 2)) for f in found]
    return pd.DataFrame(rows, columns=["site", "kind", "key", "label", "found_in", "score"])
