"""The known word that somebody may have meant, and how an error says so."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from fibrebook.words.labels import folded
from fibrebook.words.lists import either, first_few

LIKE_ENOUGH = 0.6  # share of letters in common (difflib); below it a hint misleads


def nearest(
    said: str, known: Iterable[str | None], most: int = 3, like: float = LIKE_ENOUGH, same_figures: bool = False
) -> list[str]:
    """Return the known words nearest to what was said, best first; those that differ by case or blanks alone lead.

    Where none is like enough, those that hold what was said (from three letters on). `same_figures`: only those with
    the same figures in the same order, for P1 and P2 are two panels and not a misspelling.
    """
    by_fold: dict[str, list[str]] = {}
    for word in dict.fromkeys(word for word in known if word):
        by_fold.setdefault(folded(word), []).append(word)
    wanted = folded(said)
    near = difflib.get_close_matches(wanted, by_fold, most, like)
    if not near and len(wanted) >= 3:
        near = [fold for fold in by_fold if wanted in fold]
    if wanted in by_fold:
        near = [wanted, *(fold for fold in near if fold != wanted)]
    if same_figures:
        near = [fold for fold in near if _figures(fold) == _figures(wanted)]
    return [word for fold in near for word in by_fold[fold]][:most]


def _figures(text: str) -> list[str]:
    return [letter for letter in text if letter.isdecimal()]


def did_you_mean(said: str, known: Iterable[str | None], most: int = 3, otherwise: str | None = None) -> str:
    """Return a hint for an error's end: "did you mean 'P1' or 'P2'?", else what there is instead.

    otherwise : what to say where nothing is near; None = the first dozen of what is known
    """
    words = list(dict.fromkeys(word for word in known if word))
    near = nearest(said, words, most)
    if near:
        return f"did you mean {either([repr(word) for word in near])}?"
    if otherwise is not None:
        return otherwise
    return f"there are: {first_few(words)}" if words else "there are none"
