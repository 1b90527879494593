"""What people said of a list, kept as TOML and read back: the layout that the screen and the command write."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Any

from fibrebook.errors import LayoutError, told_by_system
from fibrebook.readers.lists.asking import Said
from fibrebook.regular_files import read_regular
from fibrebook.words.nearest import did_you_mean

MOST_BYTES = 5_000_000
SECTIONS = ("columns", "words", "answers", "this_file")
OF_THIS_FILE = ("digest", "answers", "rows", "titles")
# Questions whose answers hold for every list of the shape, by how their keys begin.
GENERAL = ("column ", "both in column", "panel of column", "two colours in", "two cores to a port", "sentence",
           "dates under", "fill ", "cable is the sheet", "panel is the sheet")  # fmt: skip
FORM = 1


def of_any_list(key: str) -> bool:
    """Whether an answer holds for the next list of this shape too; others hold for the very same file only."""
    return key.startswith(GENERAL) or " under " in key


def said_to_text(said: Said, name: str, digest: str) -> str:
    """Return what was said as TOML; what holds for this very file only stands apart, under its digest."""
    import tomli_w

    content: dict[str, Any] = {"list": {"form": FORM, "like": name}}
    if said.columns:
        content["columns"] = dict(said.columns)
    if said.words:
        content["words"] = [{"under": h, "text": t, "is": what} for (h, t), what in said.words.items()]
    general = {k: v for k, v in said.answers.items() if of_any_list(k)}
    own: dict[str, Any] = {"digest": digest}
    if general:
        content["answers"] = general
    if len(general) < len(said.answers):
        own["answers"] = {k: v for k, v in said.answers.items() if not of_any_list(k)}
    if said.rows:
        own["rows"] = [{"sheet": s, "row": r, "is": what} for (s, r), what in said.rows.items()]
    if said.titles:
        own["titles"] = dict(said.titles)
    if len(own) > 1:
        content["this_file"] = own
    return tomli_w.dumps(content)


def said_from(layout: str | os.PathLike[str], digest: str) -> Said:
    """Return what a layout says of the file with a digest: the layout's text, or the file of it.

    Raises
    ------
    LayoutError : it is no layout of a list; every fault is named by its key
    """
    text = os.fspath(layout)
    name = "the layout"
    if "\n" not in text and not text.lstrip().startswith("["):
        name = Path(text).name
        try:
            text = read_regular(Path(text), MOST_BYTES).decode("utf-8")
        except OSError as error:
            raise LayoutError(f"the layout {name} cannot be read: {told_by_system(error)}") from error
        except UnicodeDecodeError as error:
            raise LayoutError(f"the layout {name} is not in UTF-8; save it again as UTF-8") from error
    try:
        content = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise LayoutError(f"{name} is no TOML: {error}") from error
    return _checked(name, content, digest)


def _checked(name: str, content: dict[str, Any], digest: str) -> Said:
    head = content.pop("list", None)
    if not isinstance(head, dict) or head.get("form") != FORM:
        raise LayoutError(
            f"{name} is no layout of a list: it lacks [list] with form = {FORM}; one with [[rows]] is given to bring-in"
        )
    for key in content:
        if key not in SECTIONS:
            raise LayoutError(f"{name}: there is no section {key!r}; {did_you_mean(key, SECTIONS)}")
    own = content.get("this_file", {})
    for key in own if isinstance(own, dict) else ["this_file"]:
        if key not in OF_THIS_FILE:
            raise LayoutError(f"{name}: there is no {key!r} in [this_file]; {did_you_mean(key, OF_THIS_FILE)}")
    said = Said(_texts(name, content, "columns"), answers=_texts(name, content, "answers"))
    for word in _tables(name, content, "words", {"under": str, "text": str, "is": str}):
        said.words[word["under"], word["text"]] = word["is"]
    answers, titles = _texts(name, own, "answers"), _texts(name, own, "titles")
    rows = _tables(name, own, "rows", {"sheet": str, "row": int, "is": str})
    if own.get("digest") == digest:
        said.answers |= answers
        said.titles = titles
        said.rows = {(row["sheet"], row["row"]): row["is"] for row in rows}
    return said


def _texts(name: str, content: dict[str, Any], section: str) -> dict[str, str]:
    found = content.get(section, {})
    if not isinstance(found, dict) or not all(isinstance(v, str) for v in found.values()):
        raise LayoutError(f"{name}: in [{section}] each key has one text")
    return dict(found)


def _tables(name: str, content: dict[str, Any], section: str, keys: dict[str, type]) -> list[dict[str, Any]]:
    found = content.get(section, [])
    if not isinstance(found, list):
        raise LayoutError(f"{name}: [[{section}]] is a list of tables with {', '.join(keys)}")
    for one in found:
        if not isinstance(one, dict) or set(one) != set(keys) or not all(type(one[k]) is t for k, t in keys.items()):
            raise LayoutError(f"{name}: each of [[{section}]] has {', '.join(keys)}, and nothing else")
    return found
