"""Reference tables: every value with its source, conflicts side by side, plugins' rows beside ours."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pyarrow as pa
import pytest

from fibrebook import plugins
from fibrebook.errors import ValueSourceError
from fibrebook.plugins import hookimpl, manager
from fibrebook.reference import choices, fibres, tables

PUBLISHERS = ("ISO", "TIA", "IEEE", "FOA", "EN ", "IEC", "ITU")
STRICTER = {"attenuation": max, "application_limits": min, "component_losses": max}
VALUE = {
    "attenuation": "attenuation_db_per_km",
    "application_limits": "insertion_loss_max_db",
    "component_losses": "value",
}


@pytest.mark.parametrize("name", tables.names())
def test_every_row_tells_its_source(name: str) -> None:
    """Every row of every built-in table has a source and one of the known bases."""
    for row in tables.rows(name):
        assert row["source"], row
        assert row["basis"] in tables.BASES, row


@pytest.mark.parametrize("name", tables.names())
def test_tables_are_typed(name: str) -> None:
    """Number columns are numbers with null for blank, text columns are text without nulls."""
    found = tables.table(name)
    found.validate(full=True)
    for column in found.column_names:
        if column in tables.NUMBERS:
            assert found[column].type == pa.float64()
        elif column not in tables.WHOLE_NUMBERS and column != "line":
            assert found[column].type == pa.string()
            assert found[column].null_count == 0


@pytest.mark.parametrize("name", list(choices.KEYS))
def test_one_default_and_it_is_the_stricter(name: str) -> None:
    """Each group of conflicting rows has one default at most, and among publishers it is the stricter value."""
    groups: dict[tuple[object, ...], list[dict[str, object]]] = {}
    for row in tables.rows(name):
        groups.setdefault(tuple(row[k] for k in choices.KEYS[name]), []).append(row)
    for key, group in groups.items():
        defaults = [row for row in group if row["default"] == "yes"]
        assert len(defaults) <= 1, key
        assert len({row["choice"] for row in group}) == len(group), f"{key}: a choice stands twice"
        published = [row for row in group if str(row["choice"]).startswith(PUBLISHERS)]
        if name in STRICTER and len(published) > 1 and defaults:
            values = [row[VALUE[name]] for row in published]
            assert defaults[0][VALUE[name]] == STRICTER[name](values), key  # type: ignore[type-var]


def test_no_key_stands_twice() -> None:
    """A fibre class, application, spelling or position stands once in its table."""
    for name, keys in {
        "fibre_classes": ("fibre_class",),
        "applications": ("application",),
        "application_powers": ("application", "fibre"),
        "colour_words": ("spelling",),
        "colour_codes": ("code", "position"),
        "modal_bandwidth": ("fibre_class", "wavelength_nm", "launch"),
    }.items():
        counted = Counter(tuple(str(row[k]).casefold() for k in keys) for row in tables.rows(name))
        assert [key for key, n in counted.items() if n > 1] == [], name


def test_every_named_fibre_and_application_exists() -> None:
    """Rows refer only to fibre classes (or modes, core sizes) and applications that are declared."""
    known = {n for c in fibres.fibre_classes() for n in fibres.counts_as(c)}
    assert {row["fibre_class"] for row in tables.rows("attenuation")} <= known
    assert {row["fibre_class"] for row in tables.rows("application_limits")} <= known
    assert {row["fibre"] for row in tables.rows("application_powers")} <= known
    applications = {row["application"] for row in tables.rows("applications")}
    assert {row["application"] for row in tables.rows("application_limits")} == {
        row["application"] for row in tables.rows("applications") if not row["family"]
    }
    assert {row["application"] for row in tables.rows("application_powers")} <= applications


def test_unknown_table_names_the_known_ones() -> None:
    """Asking for a table that is not there lists those that are."""
    with pytest.raises(ValueSourceError, match=r"'nonsense'.*attenuation.*colour_codes"):
        tables.table("nonsense")


def test_pedigree_tells_value_unit_source_and_basis() -> None:
    """The pedigree of the OM3 figures at 850 nm shows both publishers' values."""
    told = tables.pedigree("attenuation", fibre_class="OM3", wavelength_nm=850, grade="maximum")
    assert "3.5 dB/km (ISO/IEC 11801-1; " in told
    assert "3 dB/km (TIA-568.3-D; TIA-568.3-D Table 1; memory)" in told
    assert "0.75 dB" in tables.pedigree("component_losses", component="connection", choice="TIA-568.3-D", mode="")
    assert tables.pedigree("attenuation", fibre_class="OM9").startswith("no row with")
    with pytest.raises(ValueSourceError, match="No column 'colour'"):
        tables.pedigree("attenuation", colour="red")


@pytest.mark.parametrize(
    ("text", "known", "mode"),
    [("om3", "OM3", "multimode"), ("OS 2", "OS2", "single-mode"), ("G652D", "G.652.D", "single-mode"),
     ("g.657.a2", "G.657.A2", "single-mode"), ("50/500", "OM2", "multimode"), ("9/125", None, None), ("", None, None)],
)  # fmt: skip
def test_fibre_classes_are_read(text: str, known: str | None, mode: str | None) -> None:
    """Any spelling leads to the class and its mode; what does not say its class (9/125) is not guessed."""
    assert (fibres.fibre_class(text), fibres.mode_of(text)) == (known, mode)


def test_choices_win_where_they_have_a_row() -> None:
    """A firm's choice goes before the default, the default stands where that choice has no row."""

    def om3(choice: choices.Choice) -> dict[float, float]:
        return {
            row["wavelength_nm"]: row["attenuation_db_per_km"]
            for row in choices.chosen("attenuation", choice)
            if (row["fibre_class"], row["grade"]) == ("OM3", "maximum")
        }

    assert om3(None) == {850: 3.5, 1300: 1.5}
    assert om3("TIA-568.3-D") == {850: 3.0, 1300: 1.5}
    assert om3(["TIA-568.0-D", "TIA-568.3-D"]) == {850: 3.0, 1300: 1.5}
    assert "TIA-568.3-D" in choices.names("attenuation")
    with pytest.raises(ValueSourceError, match=r"'TIA-9'.*ISO/IEC 11801-1"):
        om3("TIA-9")


@pytest.fixture
def plugin(tmp_path: Path) -> Iterator[Callable[[str, str], None]]:
    """Give a function that brings in one CSV text as a plugin's reference file, taken out again afterwards."""
    given: list[object] = []

    def bring(name: str, text: str) -> None:
        path = tmp_path / f"{name}.csv"
        path.write_text(text, encoding="utf-8")

        class Plugin:
            @hookimpl
            def reference_files(self) -> Iterable[Path]:
                return [path]

        given.append(Plugin())
        manager().register(given[-1])
        tables.forget()

    yield bring
    for one in given:
        manager().unregister(one)
    tables.forget()


def test_a_plugin_extends_a_table(plugin: Callable[[str, str], None]) -> None:
    """A plugin's rows follow ours, with their own source; its colour code and its default are then used."""
    from fibrebook.light.catalogue import attenuation_db_per_km
    from fibrebook.reference import colours

    assert attenuation_db_per_km("OM3", 850) == 3.5
    plugin(
        "colour_codes", "code,position,colour,source,basis\nHouse,1,red,own sheet,seen\nHouse,2,blue,own sheet,seen\n"
    )
    plugin(
        "attenuation",
        "fibre_class,wavelength_nm,grade,attenuation_db_per_km,choice,default,source,basis\n"
        "OM3,850,maximum,2.5,our cable,yes,cable sheet,seen\n",
    )
    assert colours.order("house") == ["red", "blue"]
    assert attenuation_db_per_km("OM3", 850) == 2.5
    assert attenuation_db_per_km("OM3", 850, choice="ISO/IEC 11801-1") == 3.5
    assert tables.rows("attenuation")[-1]["file"] == "attenuation.csv"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "code,position,colour,source,basis\nX,1,red,a sheet,seen\nX,2,blue,,seen\n",
            r"colour_codes\.csv, line 3: no source",
        ),
        ("code,position,colour,source,basis\nX,1,red,a sheet,\n", r"colour_codes\.csv, line 2: no basis"),
        ("code,position,colour,source,basis\nX,1,red,a sheet,heard\n", "line 2: basis 'heard'"),
        ("code,position,colour,source,basis\nX,one,red,a sheet,seen\n", "line 2: position is 'one', not a number"),
        ("code,position,colour,source,basis\nX,1,red,a sheet\n", "line 2: more or fewer cells"),
        ("code,position,colour,basis\nX,1,red,seen\n", r"line 1: the header lacks \['source'\]"),
        (
            "code,position,colour,source,basis,hue\nX,1,red,s,seen,3\n",
            r"line 1: the header has unknown columns \['hue'\]",
        ),
    ],
)
def test_a_bad_row_names_file_and_line(plugin: Callable[[str, str], None], text: str, says: str) -> None:
    """A plugin's file with a row without source or basis, or that does not fit, is left out; file and line are named."""
    plugin("colour_codes", text)
    assert "X" not in tables.table("colour_codes")["code"].to_pylist()
    assert re.search(says, plugins.in_words())


@pytest.mark.parametrize(
    ("rows", "says"),
    [("TIA-598,1,red,s,seen\n", "position 1 of TIA-598 stands twice"), ("X,2,red,s,seen\n", "'X' has a gap")],
)
def test_a_bad_colour_list_is_named(plugin: Callable[[str, str], None], rows: str, says: str) -> None:
    """A colour list with a gap, or that overwrites a built-in position, is an error."""
    from fibrebook.reference import colours

    plugin("colour_codes", "code,position,colour,source,basis\n" + rows)
    with pytest.raises(ValueSourceError, match=says):
        colours.codes()


def test_seen_means_that_very_text() -> None:
    """No value is called seen whose source is a standard that was read in another's words: then it says in whose."""
    standard = re.compile(r"\b(IEEE 802|ISO|IEC|ITU-T|TIA-|EN 50|ABNT \d)")
    for name in tables.names():
        for row in tables.rows(name):
            if row["basis"] == "seen":
                assert not standard.search(row["source"]), row
            assert bool(row.get("read_in")) == (row["basis"] == "seen in a secondary text"), row


def test_a_second_hand_value_without_its_text_is_refused(tmp_path: Path) -> None:
    """A reference row that says "seen in a secondary text" names that text, or its file and line are named."""
    path = tmp_path / "group_index.csv"
    path.write_text(
        "fibre_class,wavelength_nm,group_index,source,basis\nOM3,850,1.48,a page,seen in a secondary text\n"
    )
    with pytest.raises(ValueSourceError, match="line 2: seen in a secondary text, but read_in"):
        tables._read(path, [])
