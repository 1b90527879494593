"""The next label of a kind of record: by the firm's scheme where a plugin gives one, else in the site's own way."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from string import Formatter

from fibrebook.plugins import BUILT_IN, LabelScheme, gathered_label_schemes, hookimpl, note
from fibrebook.records.kinds.built_in import BUILT_IN_KINDS, KINDS
from fibrebook.words import labels as words

NUMBER = "number"
OUR_LABEL_SCHEMES = (
    LabelScheme("patches", "PC-{number:03d}", "Cords: PC-001, where a site has none yet.", goes_on=True),
    LabelScheme("tests", "T{number}", "Tests: T1, where a site has none yet.", goes_on=True),
    LabelScheme("photos", "F{number}", "Photos: F1, where a site has none yet.", goes_on=True),
    LabelScheme("snags", "S{number}", "Snags: S1, where a site has none yet.", goes_on=True),
)


@hookimpl
def label_schemes() -> Iterable[LabelScheme]:
    """Give the labels that kinds of ours begin with."""
    return OUR_LABEL_SCHEMES


def next_labels(
    kind: str, there: Iterable[str | None], about: Mapping[str, object], count: int = 1, otherwise: str = "1"
) -> list[str]:
    """Return the next labels of a kind at a site.

    Parameters
    ----------
    there : the labels of that kind at the site
    about : the site's record, whose columns a scheme may name
    otherwise : the first label where no scheme is for that kind
    """
    known = list(there)
    scheme = schemes().get(kind)
    if scheme is None:
        return words.next_labels(known, count, otherwise)
    if scheme.goes_on:
        return words.next_labels(known, count, _written(scheme, about, 1))
    fits = re.compile("".join(_pattern(scheme, about)))
    last = max((int(found[1]) for label in known if label and (found := fits.fullmatch(label))), default=0)
    return [_written(scheme, about, last + n) for n in range(1, count + 1)]


def label_column(kind: str) -> str:
    """Return the column that holds the label of a kind of record."""
    return "cord" if kind == "patches" else KINDS[kind].own_key[-1]  # a cord's rows are its strands


def schemes() -> dict[str, LabelScheme]:
    """Return the scheme of each kind that has one: a plugin's, else ours; a faulty one is left out and noted."""
    ours: dict[str, LabelScheme] = {}
    theirs: dict[str, LabelScheme] = {}
    for plugin, scheme in gathered_label_schemes():
        if plugin in BUILT_IN:
            ours[scheme.name] = scheme
            continue
        part = f"label_schemes of {scheme.name}"
        fault = "there is a scheme of another plugin already" if scheme.name in theirs else _fault(scheme)
        note(plugin, part, f"its {part}: {fault}" if fault else "")
        if not fault:
            theirs[scheme.name] = scheme
    return {**ours, **theirs}


def _fault(scheme: LabelScheme) -> str:
    """Tell what is wrong with a scheme; "" = nothing."""
    if scheme.name not in KINDS or KINDS[scheme.name].scope != "site" or scheme.name == "sites":
        return "there is no such kind of record at a site"
    if KINDS[scheme.name].by_name[label_column(scheme.name)].type not in ("label", "text"):
        return "its records bear no label"
    try:
        fields = [name for _, name, _, _ in Formatter().parse(scheme.format) if name is not None]
        example = _written(scheme, dict.fromkeys(KINDS["sites"].names, "x"), 1)
    except (ValueError, KeyError, IndexError, AttributeError, TypeError) as error:
        return f"{scheme.format!r} is no format: {error}"
    if strange := next((f for f in fields if f != NUMBER and f not in BUILT_IN_KINDS["sites"].names), None):
        return f"{scheme.format!r} names {strange!r}, which is no column of sites, nor the number"
    if fields.count(NUMBER) != 1 or not re.search(r"\d", example):
        return f"{scheme.format!r} must hold the number once, as {{number}} or {{number:03d}}"
    return ""


def _written(scheme: LabelScheme, about: Mapping[str, object], number: int) -> str:
    said = {name: "" if value is None else value for name, value in about.items()}
    return scheme.format.format(**{**said, NUMBER: number})


def _pattern(scheme: LabelScheme, about: Mapping[str, object]) -> Iterable[str]:
    for text, name, _, _ in Formatter().parse(scheme.format):
        yield re.escape(text)
        if name is not None:
            yield r"0*(\d+)" if name == NUMBER else re.escape(str(about.get(name) or ""))
