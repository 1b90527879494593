"""Taking keys out of a layout's TOML one by one, noting each that is of the wrong type or that nobody asked for."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from fibrebook.errors import Problem
from fibrebook.readers.layouts.layout import Template, normalised
from fibrebook.readers.layouts.patterns import Pattern, compiled
from fibrebook.words.nearest import did_you_mean


class TomlSection:
    """One table of the TOML file; what is wrong with it goes to `problems`."""

    def __init__(self, data: Mapping[str, Any], file: str, path: str, problems: list[Problem]) -> None:
        self._data, self._file, self._path, self._problems = data, file, path, problems
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._data

    @property
    def last(self) -> str:
        """Last part of its path: ``cable`` of ``fields.cable``."""
        return self._path.rsplit(".", 1)[-1]

    @property
    def names(self) -> list[str]:
        """The keys that stand in it."""
        return list(self._data)

    def bad(self, key: str, what: str, remedy: str = "") -> None:
        """Note a fault at a key ("" = the section itself)."""
        path = ".".join(p for p in (self._path, key) if p)
        self._problems.append(Problem(f"{self._file}, {path}" if path else self._file, what, remedy))

    def known(self, name: str, names: Iterable[str], what: str) -> None:
        """Note a name that is not among those known, with the nearest that is."""
        names = list(names)
        if name not in names:
            self.bad(name, what, did_you_mean(name, names, 1, f"there are: {', '.join(names)}"))

    def done(self) -> None:
        """Note every key that nobody asked for."""
        for key in self._data:
            if key not in self._asked:
                self.known(key, sorted(self._asked), "is no key that a layout has here")

    def raw(self, key: str) -> Any:
        """Return a value as it stands."""
        self._asked.add(key)
        return self._data.get(key)

    def _typed(self, key: str, wanted: type | tuple[type, ...], otherwise: Any, what: str) -> Any:
        value = self.raw(key)
        if value is None:
            return otherwise
        if not isinstance(value, wanted) or (isinstance(value, bool) and wanted is int):
            self.bad(key, what)
            return otherwise
        return value

    def text(self, key: str) -> str:
        """Return a text, "" where it is not given."""
        return str(self._typed(key, str, "", 'is a text, as "..."'))

    def texts(self, key: str) -> tuple[str, ...]:
        """Return one text or a list of them, always as a tuple."""
        value = self.raw(key)
        if value is None:
            return ()
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not value or not all(isinstance(v, str) for v in value):
            self.bad(key, 'is a text or a list of texts, as ["...", "..."]')
            return ()
        return tuple(value)

    def flag(self, key: str, otherwise: bool = False) -> bool:
        """Return true or false."""
        return bool(self._typed(key, bool, otherwise, "is true or false, without quotation marks"))

    def whole(self, key: str, least: int, most: int = 1_048_576) -> int | None:
        """Return a whole number from `least` to `most` (the rows of a sheet); None where it is not given."""
        value = self._typed(key, int, None, "is a whole number, without quotation marks")
        if value is not None and not least <= value <= most:
            self.bad(key, f"is at least {least}" if value < least else f"is at most {most}")
            return None
        return None if value is None else int(value)

    def choice(self, key: str, words: Sequence[str], otherwise: str) -> str:
        """Return one of some words."""
        value = self.text(key) or otherwise
        if key in self._data and value not in words:
            shown = ", ".join(repr(w) for w in words if w)
            self.bad(key, f"{value!r} is not one of its values", did_you_mean(value, words, 1, shown))
            return otherwise
        return value

    def scalar(self, key: str) -> Any:
        """Return a text, number, date, true or false."""
        what = "is one value: a text, number, date, true, false"
        return self._typed(key, (str, int, float, bool, dt.date), None, what)

    def section(self, key: str) -> TomlSection:
        """Return a table within this one, empty where it is not given."""
        value = self._typed(key, dict, {}, f"is a section, as [{key}]")
        return TomlSection(value, self._file, ".".join(p for p in (self._path, key) if p), self._problems)

    def sections(self, key: str) -> dict[str, TomlSection]:
        """Return the tables within a table, by name."""
        holder = self.section(key)
        out = {}
        for name in holder.names:
            if not name.isidentifier():
                holder.bad(name, "is no name for a field", "use letters, digits and _, as end_a_port")
            elif not isinstance(holder.raw(name), dict):
                holder.bad(name, f"is a section, as [{key}.{name}]")
            else:
                out[name] = holder.section(name)
        return out

    def list_of_sections(self, key: str) -> list[TomlSection]:
        """Return the tables of a list, numbered from 1."""
        value = self.raw(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            self.bad(key, f"is a list of sections, each begun by [[{key}]]")
            return []
        return [TomlSection(v, self._file, f"{key} (number {i})", self._problems) for i, v in enumerate(value, 1)]

    def pattern(self, key: str) -> Pattern | None:
        """Return a regular expression; None where it is not given."""
        text = self.text(key)
        return self._compiled(key, text) if text else None

    def patterns(self, key: str) -> dict[str, Pattern]:
        """Return regular expressions by field name."""
        return {n: p for n, t in self.mapping(key, False).items() if (p := self._compiled(f"{key}.{n}", t)) is not None}

    def _compiled(self, key: str, text: str) -> Pattern | None:
        try:
            return compiled(text)
        except ValueError as error:
            self.bad(key, f"is no regular expression: {error}", "in TOML, write it between '...' so that \\ stays \\")
            return None

    def mapping(self, key: str, squeeze: bool = True) -> dict[str, str]:
        """Return texts by text; the left side is made ready for comparing."""
        value = self._typed(key, dict, {}, 'is a table of texts, as { "GY" = "grey" }')
        if not all(isinstance(v, str | int | float) and not isinstance(v, bool) for v in value.values()):
            self.bad(key, 'is a table of texts, as { "GY" = "grey" }')
            return {}
        return {normalised(k) if squeeze else k: str(v) for k, v in value.items()}

    def replacements(self, key: str) -> tuple[tuple[Pattern, str], ...]:
        """Return pairs of regular expression and replacement."""
        value = self.raw(key)
        if value is None:
            return ()
        pairs = isinstance(value, list) and all(
            isinstance(p, list) and len(p) == 2 and all(isinstance(t, str) for t in p) for p in value
        )
        if not pairs:
            self.bad(key, "is a list of pairs, as [['[ -]', '']]")
            return ()
        found = [(self._compiled(key, a), b) for a, b in value]
        return tuple((a, b) for a, b in found if a is not None and self._may_replace(key, a, b))

    def _may_replace(self, key: str, pattern: Pattern, by: str) -> bool:
        try:
            re.sub(pattern.pattern, by, "")  # looks at the replacement even where nothing is found
        except (re.error, IndexError) as error:
            self.bad(key, f"{by!r} cannot take a match's place: {error}", "a part of the match is \\1 or \\g<name>")
            return False
        return True

    def dates(self, key: str) -> tuple[str, ...]:
        """Return forms of dates."""
        return tuple(form for form in self.texts(key) if self._is_date_form(key, form))

    def _is_date_form(self, key: str, form: str) -> bool:
        try:
            dt.datetime.strptime("", form)
        except ValueError as error:
            if "does not match" in str(error):  # sound, only the empty text is no such date
                return True
        except (re.error, IndexError, KeyError):
            pass
        self.bad(key, f"{form!r} is no form of a date", "write it with each of %Y, %m and %d once, as %d.%m.%Y")
        return False

    def template(self, key: str) -> Template | None:
        """Return a template."""
        return self.template_of(key, self.text(key))

    def template_of(self, key: str, text: str) -> Template | None:
        """Return a text as a template, noting braces that do not close."""
        try:
            template = Template(text)
            if template.is_plain and all(n.isidentifier() for n in template.fields):
                return template
        except ValueError:
            pass
        self.bad(key, f"{text!r} is no template", 'write fields in braces, as "{panel}/{port}"')
        return None
