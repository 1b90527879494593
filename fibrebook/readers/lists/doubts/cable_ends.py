"""Where each cable ends, out of all lines and titles that say it; more than two ends are asked."""

from __future__ import annotations

from collections import Counter

from fibrebook.readers.lists.asking import LEAVE_OUT, Asking
from fibrebook.readers.lists.core_numbers import CableCores
from fibrebook.words.lists import both

FEW = 0.2  # share of a cable's lines: an enclosure named on fewer is the doubtful one


def ends_of(cable: CableCores, two_ended: set[int], asking: Asking) -> tuple[str, str]:
    """Return the enclosures at ends A and B, "" where the list does not say; lines of a third wait.

    Parameters
    ----------
    two_ended : numbers of the tables that have columns or titles for both ends
    """
    counts: dict[str, Counter[str]] = {"a": Counter(), "b": Counter(), "here": Counter()}
    for item in cable.items:
        for end in ("a", "b"):
            name = item.values.get(f"{end}_enclosure")
            if name:
                counts[end if item.block in two_ended else "here"][str(name)] += 1
    every = counts["a"] + counts["b"] + counts["here"]
    if len(every) > 2:
        every = _but_two(cable, every, asking)
    first = next((n for n, _ in counts["a"].most_common() if n in every), "")
    second = next((n for n, _ in counts["b"].most_common() if n in every and (n != first or len(every) == 1)), "")
    for name in [*counts["here"], *every]:
        if name not in every or name in (first, second):
            continue
        if not first:
            first = name
        elif not second:
            second = name
    return first, second


def _but_two(cable: CableCores, every: Counter[str], asking: Asking) -> Counter[str]:
    """Ask which enclosures are the cable's ends; the lines of the others wait."""
    total = sum(every.values())
    rare = [n for n, count in every.items() if count < FEW * total]
    doubtful = rare if len(every) - len(rare) == 2 else list(every)
    cells = [c for i in cable.items for e in "ab" if i.values.get(f"{e}_enclosure") in doubtful for c in i.every]
    names = [n for n, _ in every.most_common()]
    what = f"Cable {cable.name} is said to end at {both(names)}, but a cable has two ends: which are they?"
    proposals = [f"{a} and {b}" for a, b in [(names[0], n) for n in names[1:]]]
    answer = asking.ask(f"ends of {cable.name}: {both(sorted(names))}", cells, names[-1], what, (*proposals, LEAVE_OUT))
    if answer and answer != LEAVE_OUT:
        kept = [n.strip() for n in answer.split(" and ")]
        doubtful = [n for n in every if n not in kept]
    cable.doubtful |= {
        n for n, i in enumerate(cable.items) if any(i.values.get(f"{e}_enclosure") in doubtful for e in "ab")
    }
    return Counter({n: c for n, c in every.items() if n not in doubtful})
