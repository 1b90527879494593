"""Names that are one thing written in two ways: case and blanks are taken as meant, a letter apart is asked."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from fibrebook.readers.lists.asking import Asking, means_no, means_yes
from fibrebook.readers.lists.lines import Item
from fibrebook.words.lists import both

NAMED = ("site", "cable", "a_enclosure", "b_enclosure")
RARE, OFTEN = 2, 4  # lines: a name met so rarely beside one met so often may be a slip
LIKE = 85  # of 100, by letters
MOST_NAMES = 400  # of the same numbers, the commonest, with which a rare one is compared


def one_spelling(items: Sequence[Item], asking: Asking) -> None:
    """Give names that differ by case or blanks their commonest spelling; ask about those a letter apart."""
    for roles in (("site",), ("cable",), ("a_enclosure", "b_enclosure")):
        counts = Counter(str(i.values[r]) for i in items for r in roles if i.values.get(r) not in (None, ""))
        best: dict[str, str] = {}
        squeezed = {name: _squeezed(name) for name in counts}
        for name, _ in counts.most_common():
            best.setdefault(squeezed[name], name)
        meant = {name: best[squeezed[name]] for name in counts}
        lines, spellings = Counter[str](), dict[str, list[str]]()
        for name, n in counts.items():
            lines[meant[name]] += n
            spellings.setdefault(meant[name], []).append(name)
        for other, spelt in spellings.items():
            if len({_cased(n) for n in spelt}) > 1:
                _tell_one(roles[0], other, spelt, items, asking)
        alike: dict[tuple[str, ...], list[tuple[str, int]]] = {}  # only names of the same numbers are ever compared
        for name, n in lines.most_common():
            alike.setdefault(_numbers_in(name), []).append((name, n))
        meant |= {
            name: _near(roles[0], name, lines, alike[_numbers_in(name)], items, asking) or name
            for name in dict.fromkeys(meant.values())
        }
        for item in items:
            for role in roles:
                if item.values.get(role) not in (None, ""):
                    name = meant[str(item.values[role])]
                    item.values[role] = meant.get(name, name)


def _cased(name: str) -> str:
    return re.sub(r"\s+", "", name.casefold())


def _squeezed(name: str) -> str:
    """Return what names are one by: their letters and their numbers; C-2, C 2 and c2 are one, P1-2 and P12 are two."""
    apart = re.sub(r"(?<=\d)[\W_]+(?=\d)", "|", name.casefold())
    return re.sub(r"[^\w|]|_", "", apart)


def _tell_one(role: str, meant: str, spelt: Sequence[str], items: Sequence[Item], asking: Asking) -> None:
    """Names that differ by a hyphen are taken for one, and that is to be confirmed as the sentences are."""
    roles = [r for r in NAMED if r.endswith(role.removeprefix("a_"))]
    rest = [n for n in spelt if n != meant]
    cells = [i.cells[r] for i in items for r in roles if i.values.get(r) in rest and r in i.cells]
    word = role.removeprefix("a_")
    what = f"{both([repr(n) for n in sorted(spelt)])} are taken for one {word}, {meant!r}: is it so?"
    answer = asking.ask(f"spelling of {word} {meant!r}", cells[:1], rest[0], what, ("yes", "no"), waits=False)
    if answer and means_no(answer):
        for item in items:
            if any(item.values.get(r) in rest for r in roles):
                item.values["waits"] = True
        asking.ask(f"other {word}s than {meant!r}", cells, rest[0], f"{rest[0]!r} is not {meant!r}: what is it?", ())


def _numbers_in(name: str) -> tuple[str, ...]:
    return tuple(re.findall(r"\d+", name))


def _near(
    role: str, name: str, lines: Counter[str], alike: Sequence[tuple[str, int]], items: Sequence[Item], asking: Asking
) -> str | None:
    """Return what a rare name is said to mean; None where it stands as it is, or is asked now.

    alike : names that hold the same numbers, the commonest first, and how many lines name them
    """
    own = re.sub(r"\d+", "", name.casefold())
    if lines[name] > RARE or len(own) < 3:
        return None
    from rapidfuzz import fuzz

    for other, n in alike[:MOST_NAMES]:
        if n < max(OFTEN, 3 * lines[name]) or other == name:
            continue
        if fuzz.ratio(own, re.sub(r"\d+", "", other.casefold())) < LIKE:
            continue
        roles = [r for r in NAMED if r.endswith(role.removeprefix("a_"))]
        cells = [i.cells[r] for i in items for r in roles if i.values.get(r) == name and r in i.cells]
        word = {"a_enclosure": "panel or enclosure"}.get(role, role)
        what = f"{name!r} stands on {lines[name]} line(s) and {other!r} on {n}: are they one {word}, {other!r}?"
        answer = asking.ask(f"{word} {name!r}", cells, name, what, ("yes", "no"))
        if answer is None:
            for item in items:
                if any(item.values.get(r) == name for r in roles):
                    item.values["waits"] = True
            return None
        return other if means_yes(answer) else None
    return None
