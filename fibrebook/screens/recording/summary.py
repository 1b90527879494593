"""What a visit will change once it is saved, in words: changes, faults, advice that it causes or settles."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from fibrebook.analyses.advice.situation import advice_words
from fibrebook.errors import FibrebookError
from fibrebook.screens.frame.changes_told import in_words
from fibrebook.screens.recording.visit_draft import Day


def summary(day: Day, waits: Iterable[str]) -> str:
    """Return it as HTML; `waits` are the things that cannot be saved yet."""
    out = [_wrong(words) for words in waits]
    if not day.parts:
        return "".join([*out, "<div class='fb-help'>Nothing yet.</div>"])
    try:
        out.append("<b>Changes:</b>" + _list(in_words(day.preview())))
        day.check()
        caused, settled = day.advice()
    except FibrebookError as error:
        return "".join([*out, _wrong(str(error))])
    if caused:
        out.append("<b>Worth a second look, once this is saved:</b>" + _list(advice_words(caused)))
    if settled:
        out.append("<b>Settled by this:</b>" + _list(advice_words(settled)))
    if not caused and not settled:
        out.append("<div class='fb-help'>No advice.</div>")
    return "".join(out)


def _wrong(words: str) -> str:
    return f"<div class='fb-message fb-wrong'>{escape(words)}</div>"


def _list(lines: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{escape(x)}</li>' for x in lines)}</ul>"
