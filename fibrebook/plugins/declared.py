"""What hooks give: declarations that name where their code is. The code is imported when it first runs."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Code = str | Callable[..., Any]  # "package.module:function", or the function itself


def code(run: Code) -> Callable[..., Any]:
    """Return the function that a declaration names, importing its module now.

    Raises
    ------
    TypeError, ImportError, AttributeError : there is no such function
    """
    if not isinstance(run, str):
        if not callable(run):
            raise TypeError(f"{run!r} is no function, nor the name of one as 'package.module:function'")
        return run
    module, colon, name = run.partition(":")
    if not (module and colon and name):
        raise TypeError(f"{run!r} names no function: write it as 'package.module:function'")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    if not callable(found):
        raise TypeError(f"{run!r} is {found!r}, which is no function")
    return found


def name_of(run: Code) -> str:
    """Return what to call a function in a message."""
    return (
        run if isinstance(run, str) else f"{getattr(run, '__module__', '')}.{getattr(run, '__qualname__', repr(run))}"
    )


@dataclass(frozen=True)
class Declared:
    """What every declaration has: a name, where its code is, and a sentence on what it is for."""

    name: str
    run: Code
    help: str = ""

    @property
    def function(self) -> Callable[..., Any]:
        """The function itself; its module is imported now."""
        return code(self.run)


@dataclass(frozen=True)
class HardRule(Declared):
    """What may never stand in the register.

    Attributes
    ----------
    name : a few words, as "one key, one row"
    run : takes tables by kind, as a commit would leave the touched sites, and gives `fibrebook.errors.Problem`s
    help : what is refused, in one sentence
    reads : the kinds that it looks at; a change of none of them is not judged. Empty: any
    stops : whether rules that follow make no sense where this one is broken
    """

    reads: tuple[str, ...] = ()
    stops: bool = False


@dataclass(frozen=True)
class AdviceCheck(Declared):
    """What is worth a second look.

    Attributes
    ----------
    name : a few words
    run : takes a `fibrebook.analyses.advice.situation.Situation` and gives `Advice`s
    help : what it finds, in one sentence
    """


@dataclass(frozen=True)
class SpokenName(Declared):
    """A way in which people call records of a kind, read by `find` and `which` where no label is so.

    Attributes
    ----------
    name : the kind, as "cables": one of those that can be found
    run : takes a `PlantSnapshot`; returns a function of the words that somebody typed (small letters), which returns
        what they mean, the likeliest first, as (key without the site, why in a few words), and the words that are left:
        these must begin words of the record's label. Nothing meant: no record, and all words
    help : how it is called, in one sentence
    """


@dataclass(frozen=True)
class Attention(Declared):
    """One line of what asks for attention on the front page.

    Attributes
    ----------
    name : the line's title, a few words
    run : takes a register; returns a DataFrame with a row for each place: site, what (a few words)
    help : what it finds, in one sentence
    """


@dataclass(frozen=True)
class Analysis(Declared):
    """One question and its answer as a table, run by `fibrebook ask`.

    Attributes
    ----------
    name : a plain identifier
    run : takes a register, and `site` where it can answer for one; returns a DataFrame
    help : what it answers, in one sentence
    """


@dataclass(frozen=True)
class PrintedSheet(Declared):
    """One sheet that is handed out or carried along, written by `fibrebook sheet`.

    Attributes
    ----------
    name : as it is asked for, as "next-visit"
    run : takes a register and a site's label; returns the text of one HTML file that fetches nothing, or the bytes
        of a PDF
    help : what it tells, a sentence
    takes : what it takes besides, by name: "of" (labels of what it is to tell of; empty: all of the site), "look"
        (paper and words, `fibrebook.sheets.paper.typesetting.PaperLook`)
    """

    takes: tuple[str, ...] = ()


@dataclass(frozen=True)
class VisitSection(Declared):
    """One section of *Record a visit*.

    Attributes
    ----------
    name : as a draft keeps it, in small letters; the section itself is called so too
    run : takes nothing; returns a `fibrebook.screens.frame.section.Section`, or None where a visit has none of it now
    help : what is recorded there, in one sentence
    """


@dataclass(frozen=True)
class Page(Declared):
    """One screen behind the front page.

    Attributes
    ----------
    name : as it stands in the address, as "return-visit"
    run : takes a register; returns a `fibrebook.screens.frame.screen.Screen`
    help : what it is for, a sentence
    title : as people read it
    words : what else one types to find it
    """

    title: str = ""
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Command(Declared):
    """One command of the command line.

    Attributes
    ----------
    name : as it is typed
    run : a `click.Command`
    help : what it does, in one sentence
    """
