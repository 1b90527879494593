"""A guess, corrected, kept as a layout: read again it gives the same rows, and nothing is ever written over."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import fibrebook
from fibrebook import screens
from fibrebook.errors import FibrebookError, InputError
from fibrebook.readers.guess.headings import MEANINGS
from fibrebook.readers.guess.kept_layouts import FORBIDDEN, file_name, keep_layout, kept_layouts, layouts_folder
from fibrebook.screens.exchange.bring_in_model import AS_GUESSED, BringingIn
from fibrebook.workbook import read_layout, read_with_layout

HERE = Path(__file__).parent
LISTS = [
    *(HERE.parent / "data" / "old_lists" / n for n in ("all_cores.csv", "core_schedule.xlsx", "panel_ports.xlsx")),
    HERE / "old_lists" / "two_ends.ods",
]
OTHERS = st.sampled_from([m for m in MEANINGS if m not in ("site", "cable", "core", "core_count")])


def guessed(where: Path, path: Path) -> BringingIn:
    """A list on its way into an empty register, read by the guess."""
    work = BringingIn(fibrebook.create(where / "register"))
    work.choose(path)
    work.read_as(AS_GUESSED)
    assert work.guess is not None
    work.guess.site = work.guess.site or "Works"
    return work


@pytest.mark.parametrize("path", LISTS, ids=lambda p: p.name)
@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_a_kept_layout_gives_the_same_rows(
    path: Path, data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whatever columns are said to mean, what is kept reads the same rows and the same problems as what was looked at."""
    where = tmp_path_factory.mktemp("kept")
    work = guessed(where, path)
    guess = work.guess
    assert guess is not None
    for column in data.draw(st.lists(st.sampled_from(guess.columns), max_size=4)):
        if column.meaning not in ("site", "cable", "core"):
            work.mean(column.letter, data.draw(OTHERS))
    for meaning, words in guess.spellings.items():
        for written in words:
            if meaning == "cable" and data.draw(st.booleans()):
                work.spell(meaning, written, f"K {written}")
    try:
        seen = read_with_layout(path, guess.layout())
    except FibrebookError as error:
        with pytest.raises(type(error)):
            work.keep("mine")
        return
    again = read_with_layout(path, work.keep("mine"))
    assert again.tables == seen.tables
    assert again.problems == seen.problems


@pytest.mark.parametrize("path", LISTS, ids=lambda p: p.name)
def test_a_kept_layout_fits_no_list_of_another_shape(path: Path, tmp_path: Path) -> None:
    """Every other list is told as one that it cannot read, so it is never taken for it."""
    kept = guessed(tmp_path, path).keep("mine")
    for other in LISTS:
        if other != path:
            try:
                assert read_with_layout(other, kept).problems
            except FibrebookError:
                continue


def test_a_kept_layout_is_taken_the_next_time(tmp_path: Path) -> None:
    """The list that no shipped layout reads is read by the kept one, through the model, into the same register rows."""
    first = guessed(tmp_path, LISTS[3])
    first.keep("waterworks")
    assert first.look().ok and first.commit("RK", "the list") == 1
    again = BringingIn(fibrebook.create(tmp_path / "second"))  # its own folder of layouts is the same: beside it
    again.choose(LISTS[3])
    assert again.way == "layout waterworks.toml" and again.way in again.ways
    assert again.look().ok and again.commit("RK", "the list") == 1
    for table in ("cables", "ports", "terminations", "cores", "sites"):
        assert first.reg.arrow(table).equals(again.reg.arrow(table)), table


def test_the_site_that_a_kept_layout_says_can_be_another(tmp_path: Path) -> None:
    """It is shown and said, and what is typed instead is what is read."""
    guessed(tmp_path, LISTS[3]).keep("waterworks")
    work = BringingIn(fibrebook.create(tmp_path / "second"))
    guess = work.choose(LISTS[3])
    assert work.can_say_site and guess.site == "Works" and "every line is of the site Works" in guess.says[-1]
    guess.site = ""
    with pytest.raises(InputError, match="which site"):
        work.look()
    guess.site = "Pumping station"
    assert work.commit("RK", "x") == 1
    assert work.reg.sites() == ["Pumping station"]


def test_nothing_is_written_over(tmp_path: Path) -> None:
    """A name that is taken is refused, with capitals or without the ending too, and the file stays as it was."""
    work = guessed(tmp_path, LISTS[0])
    kept = work.keep("ours")
    before = kept.read_bytes()
    for name in ("ours", "ours.toml", " ours ", "ours.TOML"):
        with pytest.raises(InputError, match="already"):
            work.keep(name)
    assert kept.read_bytes() == before and len(kept_layouts(work.folder)) == 1


@pytest.mark.parametrize(
    "name", ["", " ", ".toml", "../ours", "a/b", "a\\b", "con", "LPT1.x", ".hidden", "x" * 81, "a:b", "dot."]
)
def test_a_name_that_some_system_cannot_write_is_refused(name: str, tmp_path: Path) -> None:
    """Paths, devices, hidden files and forbidden signs are named; nothing is written anywhere."""
    work = guessed(tmp_path, LISTS[0])
    with pytest.raises(InputError):
        work.keep(name)
    assert kept_layouts(work.folder) == [] and sorted(p.name for p in tmp_path.iterdir()) == ["register"]


@given(st.text(min_size=1, max_size=90))
def test_a_file_name_is_safe_or_refused(name: str) -> None:
    """Whatever is typed, the name that comes of it has no path in it and ends in .toml once."""
    try:
        made = file_name(name)
    except InputError:
        return
    assert made.endswith(".toml") and not FORBIDDEN.search(made) and Path(made).name == made


def test_where_the_layouts_lie(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the register; for a bucket in the folder at work; where the environment says, if it says."""
    monkeypatch.delenv("FIBREBOOK_LAYOUTS", raising=False)
    assert layouts_folder(tmp_path / "firm" / "register") == tmp_path / "firm" / "layouts"
    assert layouts_folder("s3://bucket/firm") == Path("layouts")
    monkeypatch.setenv("FIBREBOOK_LAYOUTS", str(tmp_path / "shared"))
    assert layouts_folder("s3://bucket/firm") == tmp_path / "shared"
    assert kept_layouts(tmp_path / "shared") == []


def test_a_layout_of_the_same_name_as_a_shipped_one(tmp_path: Path) -> None:
    """Both are offered, each under words of its own, and each reads as itself."""
    work = guessed(tmp_path, LISTS[0])
    kept = work.keep("all_cores")
    ours, shipped = [w for w in work.ways if "all_cores" in w]
    work.read_as(ours)
    assert work.guess is not None and work.guess.layout_path == kept and work.way == ours
    work.read_as(shipped)
    assert work.guess.layout_path != kept and work.way == shipped


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """Where a file stands in the folder's place, the layout is refused in words."""
    work = guessed(tmp_path, LISTS[0])
    (tmp_path / "taken").write_text("x")
    assert work.guess is not None
    with pytest.raises(InputError, match=r"cannot be written|already"):
        keep_layout(work.guess, tmp_path / "taken", "ours")


def test_a_spoilt_layout_in_the_folder_is_passed_over_and_told_when_chosen(tmp_path: Path) -> None:
    """Files that are no layouts do not keep a list from being read; the screen says what is wrong with the one chosen."""
    folder = layouts_folder(tmp_path / "register")
    folder.mkdir()
    (folder / "spoilt.toml").write_text("fields = [")
    screen = screens.bring_in(fibrebook.create(tmp_path / "register"), LISTS[0])
    assert screen.model.way == "layout all_cores.toml"
    screen.how.way.value = "layout spoilt.toml"
    assert "no TOML" in screen.said


def test_the_screen_keeps_what_was_corrected(tmp_path: Path) -> None:
    """The button writes the file, says where, offers it; a second time it says that the name is taken."""
    screen = screens.bring_in(fibrebook.create(tmp_path / "register"), LISTS[3])
    screen.how.site.value = "Works"
    assert screen.how.name.value == "two_ends"
    screen.how.name.value = "the waterworks list"
    screen.how.keep()
    kept = tmp_path / "layouts" / "the waterworks list.toml"
    assert str(kept) in screen.how._kept.value and "layout the waterworks list.toml" in screen.how.way.options
    assert read_layout(kept).fields["site"].at == "Works"
    screen.how.keep()
    assert "already" in screen.how._kept.value


def test_a_correction_leaves_the_other_boxes_where_they_are(tmp_path: Path) -> None:
    """Boxes are the same widgets after a correction, so that a key or a click meant for the next one finds it."""
    screen = screens.bring_in(fibrebook.create(tmp_path / "register"), LISTS[0])
    screen.how.way.value = AS_GUESSED
    before = list(screen.how._meanings.values())
    before[-1].value = ""
    assert list(screen.how._meanings.values()) == before
    assert before[-1].value == "" and screen.model.guess is not None and "remark" not in screen.model.guess.meant
    before[2].value = "b_enclosure"  # taken from the column that meant it
    assert before[3].value == ""
