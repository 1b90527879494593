"""What people call a thing is read in one place: whoever is asked, the same words mean the same thing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hand_plant import Plant
from hypothesis import given, settings
from light_plant import register
from plants import Rows, plants, tables_of
from test_cli import run

import fibrebook
from fibrebook.errors import AmbiguousError, NotFoundError
from fibrebook.screens.front_door.addresses import read_address
from fibrebook.screens.front_door.page import Home
from fibrebook.snapshot.names import Names
from fibrebook.snapshot.snapshot import PlantSnapshot
from fibrebook.snapshot.things import ON_ONE_PATH
from fibrebook.words.spelling import as_words, number_said, plain

NOTHING = ()
C1, C12 = ("core", "C", "1"), ("core", "C", "12")
STROKE, SPOKEN = ("core", "HO-FM/1", "9"), ("core", "Riser Nord", "3")
PORT, OTHER = ("port", "P1", "1", "A"), ("port", "P 02", "1", "A")
FACE = ("interface", "SW1", "3", "Tx")
# What somebody writes, and the one thing that it means here; what it means was decided by reading it aloud.
SPELLINGS: list[tuple[str, tuple[str, ...]]] = [
    ("C/1", C1), ("C/01", C1), ("C/001", C1), ("C/1.0", C1), ("c/1", C1), (" C / 1 ", C1), ("C 1", C1), ("c-01", C1),
    ("core C/1", C1), ("core c 01", C1), ("fibre C/1", C1), ("C core 1", C1), ("cable C core 1", C1), ("Ｃ／１", C1),
    ("C/12", C12), ("c 12.0", C12), ("C/²", NOTHING), ("C/1²", NOTHING), ("C/0", NOTHING), ("C/-1", NOTHING), ("C-1", C1),
    ("C/1.5", NOTHING), ("C/13", NOTHING), ("HO-FM/1/9", STROKE), ("ho fm 1 9", STROKE), ("HO–FM/1/9", STROKE),
    ("ho-fm/01/09", STROKE), ("HO/FM/1/9", STROKE), ("HOFM/1/9", NOTHING), ("Riser Nord/3", SPOKEN),
    ("riser  nord/3", SPOKEN), ("RISER NORD 3", SPOKEN), ("riser-nord/03", SPOKEN), ("P1/1/A", PORT), ("p1/1/a", PORT),
    ("port P1 01 A", PORT), ("panel p1 port 1 a", PORT), ("P 02/1/A", OTHER), ("p 2/1/a", OTHER), ("SW1/3/Tx", FACE),
    ("sw1 3 tx", FACE), ("interface SW1/03/TX", FACE), ("SW1/3/Q", NOTHING),
]  # fmt: skip


@pytest.fixture(scope="module")
def reg(tmp_path_factory: pytest.TempPathFactory) -> fibrebook.Register:
    """A site with labels that hold strokes, blanks and noughts."""
    plant = Plant().panel("P1").panel("P 02").switch("SW1", "3")
    for cable, cores in (("C", 12), ("HO-FM/1", 12), ("Riser Nord", 4)):
        plant.cable(cable, "P1", "P 02", cores=cores)
    return register(plant, tmp_path_factory.mktemp("names") / "register")


@pytest.fixture(scope="module")
def home(reg: fibrebook.Register) -> Home:
    """The front page, at the site."""
    page = Home(reg)
    page.make_ready()
    return page


def by_which(reg: fibrebook.Register, home: Home, said: str) -> Any:
    """The command `which`."""
    done = run("-r", reg.where, "which", "S1", said, "--json")
    return tuple(done.json["found"][0]["start"]) if done.code == 0 else NOTHING


def by_trace(reg: fibrebook.Register, home: Home, said: str) -> Any:
    """`trace`, by the element that is marked as its start."""
    path = fibrebook.trace(reg, "S1", said)
    row = path[path["start"]].iloc[0]
    return (row["kind"], row["at"], *(row["name"].rsplit("/", 1) if row["kind"] != "core" else [row["name"]]))


def by_which_in_python(reg: fibrebook.Register, home: Home, said: str) -> Any:
    """The analysis `which`."""
    return tuple(fibrebook.which(reg, "S1", said)["start"].iloc[0])


def by_find(reg: fibrebook.Register, home: Home, said: str) -> Any:
    """`find` at the site: what is called so, not what is only like it."""
    found = fibrebook.find(reg, said, "S1")
    called = found[(found["score"] == 1) & found["kind"].isin(ON_ONE_PATH)]
    return tuple(map(str, called["key"].iloc[0])) if len(called) else NOTHING


def by_find_box(reg: fibrebook.Register, home: Home, said: str) -> Any:
    """The find box of the front page: its first item, unless it says that nothing matches."""
    home.find.query = said
    items = [i for g in home.find.found for i in g["items"]]
    if home.find.words or not items:
        return NOTHING
    first = tuple(map(str, read_address(items[0]["link"]).thing))
    return first if first[0] in ON_ONE_PATH else NOTHING


def told(answer: Callable[..., Any], *given: Any) -> Any:
    """An answer, or the sort of error that it is."""
    try:
        return answer(*given)
    except NotFoundError:
        return NOTHING


@pytest.mark.parametrize(
    "door", [by_which, by_which_in_python, by_trace, by_find, by_find_box], ids=lambda d: d.__name__
)
@pytest.mark.parametrize(("said", "meant"), SPELLINGS, ids=[s for s, _ in SPELLINGS])
def test_every_door_reads_the_same_words_alike(
    reg: Any, home: Home, door: Any, said: str, meant: tuple[str, ...]
) -> None:
    """`which`, `trace`, `find` and the find box take forty spellings for the same things, or all for nothing."""
    assert told(door, reg, home, said) == meant


def test_every_question_reads_the_same_words_alike(reg: Any) -> None:
    """What would run, what goes dark, what a loss is made of and where a fault is: asked by other spellings, the same."""
    for answer, more in (
        (fibrebook.would_run, ()), (fibrebook.goes_dark, ()), (fibrebook.contributions, ()), (fibrebook.locate, (30.0,)),
    ):  # fmt: skip
        right = answer(reg, "S1", C12, *more)
        for said in ("c/12.0", "core C 012", ("core", "c", 12.0), ("core", "C", "012")):
            assert answer(reg, "S1", said, *more).equals(right), (answer.__name__, said)


def test_a_whole_thing_is_read_like_a_part_of_it(reg: Any) -> None:
    """Cables, enclosures and the places between which strands are counted are read in any case."""
    seen = PlantSnapshot.of(reg, "S1")
    for said in (("cable", "ho-fm/1"), "cable HO–FM/1", "ho fm 1"):
        assert seen.names.vertices("S1", said).tolist() == seen.names.vertices("S1", ("cable", "HO-FM/1")).tolist()
    right = fibrebook.spare_between(reg, "S1", "P1", "P 02")
    assert fibrebook.spare_between(reg, "S1", "p1", "p  02").equals(right)


def test_which_tells_python_what_it_prints(reg: Any) -> None:
    """The command prints the rows of the analysis; both positions of a port are a row each, its path that of `trace`."""
    frame = fibrebook.which(reg, "S1", "P1/1")
    assert [start.tolist() for start in frame["start"]] == [["port", "P1", "1", "A"], ["port", "P1", "1", "B"]]
    printed = run("-r", reg.where, "which", "S1", "P1/1", "--json").json["found"]
    assert [f["start"] for f in printed] == [start.tolist() for start in frame["start"]]
    for row, one in zip(frame.to_dict("records"), printed, strict=True):
        assert [r["text"] for r in row["reaches"]] == [r["text"] for r in one["reaches"]]
        path = fibrebook.trace(reg, "S1", row["start"].tolist())
        for told in (row["path"], one["path"]):
            assert [(p["kind"], p["at"], p["name"]) for p in told] == list(
                path[["kind", "at", "name"]].itertuples(index=False, name=None)
            )


def test_what_stands_as_written_comes_before_what_is_like_it(tmp_path: Any) -> None:
    """Cables c7, C7 and C-7 are three: each is found as it is written; one that is written like none asks back."""
    plant = Plant().panel("P1").panel("P2")
    for cable in ("c7", "C7", "C-7", "K8"):
        plant.cable(cable, "P1", "P2")
    reg = register(plant, tmp_path / "r")
    for cable in ("c7", "C7", "C-7"):
        assert by_trace(reg, None, f"{cable}/2") == ("core", cable, "2")  # type: ignore[arg-type]
    with pytest.raises(AmbiguousError, match="core C7 2; core c7 2") as several:
        fibrebook.trace(reg, "S1", ("core", "Ｃ7", 2))
    assert several.value.meant == (("core", "C7", "2"), ("core", "c7", "2"))
    done = run("-r", reg.where, "which", "S1", "Ｃ7/2")
    assert done.code == 1 and "core C7 2; core c7 2" in done.err
    assert by_trace(reg, None, "k8/2") == ("core", "K8", "2")  # type: ignore[arg-type]


def test_labels_given_apart_stay_apart(tmp_path: Any) -> None:
    """Core 1 of A/B and core "B/1" of nothing: labels given one by one are not put together to mean something else."""
    plant = Plant().panel("A").panel("A/B").cable("A/B", "A", "A/B")
    plant.put("ports", enclosure="A", port="B/1", position="A")
    reg = register(plant, tmp_path / "r")
    names = PlantSnapshot.of(reg, "S1").names
    assert {f.start for f in names.meant("S1", "A/B/1/A", ("port",))} == {
        ("port", "A", "B/1", "A"), ("port", "A/B", "1", "A"),
    }  # fmt: skip
    assert names.one("S1", ("port", "A", "B/1", "A")).key == ("A", "B/1", "A")
    assert names.one("S1", ("port", "A/B", "1", "A")).key == ("A/B", "1", "A")


def test_what_is_not_there_is_told_with_the_nearest(reg: Any) -> None:
    """Said as words or label by label, what is nothing here is told with what is."""
    for said, hint in (
        ("HO-FN/1/9", "did you mean 'HO-FM/1'"), (("core", "HO-FN/1", 9), "did you mean 'HO-FM/1'"),
        ("C/13", "the cores of cable 'C' are 1 to 12"),
        (("core", "C", 13), "its cores are 1 to 12"), (("port", "P1", "1"), "has the positions 'A', 'B': say which"),
        ("P1/1", "has the positions 'A', 'B': say which"), ("", "no core, port or interface"),
    ):  # fmt: skip
        with pytest.raises(NotFoundError, match=hint):
            fibrebook.trace(reg, "S1", said)


@settings(max_examples=40, deadline=None)
@given(plants())
def test_everything_answers_to_its_own_labels(rows: Rows) -> None:
    """Whatever labels a firm gives, the labels of a thing, given as they are recorded, mean that thing and no other."""
    names = Names(PlantSnapshot(tables_of(rows)).network)
    for kind, (table, *columns) in {
        "port": ("ports", "enclosure", "port", "position"), "cable": ("cables", "cable"), "cord": ("patches", "cord"),
        "interface": ("interfaces", "equipment", "interface", "position"), "channel": ("channels", "channel"),
    }.items():  # fmt: skip
        for row in rows.get(table, []):
            key = tuple(row.get(c) or "" for c in columns)
            assert names.one(row["site"], (kind, *key), (kind,)).key == key
    for row in rows.get("cables", []):
        last = str(row["core_count"])
        assert names.one(row["site"], ("core", row["cable"], last)).key == (row["cable"], last)


@pytest.mark.parametrize(("text", "number"), [("7", 7), ("007", 7), ("7.0", 7), ("7.00", 7), ("7.5", None), ("²", None), ("1²", None), ("", None), ("7.", None)])  # fmt: skip
def test_numbers_as_people_write_them(text: str, number: int | None) -> None:
    """Noughts before and after are nothing; a raised figure is the mark of a footnote and never a figure."""
    assert number_said(text) == number


def test_one_form_of_a_label() -> None:
    """Case, width, blanks and every dash are one; letters that are drawn raised stay apart."""
    assert as_words("HO—FM / 01") == as_words("ho-fm/1") == ("ho", "fm", "1")
    assert plain("Ｃ１") == "c1"
    assert as_words("C - 1") == as_words("C-1") == ("c", "1")
    assert as_words("C/-1") == as_words("C −1") == ("c", "-1")
    assert plain("C²") == "c²" != plain("C2")
