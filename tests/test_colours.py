"""Colour codes: the published orders, tracers, spellings, and the cores of whole cables."""

from __future__ import annotations

import time

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fibrebook.errors import ValueSourceError
from fibrebook.reference import colours

# The sequence of TIA-598-C/D.
TIA = ["blue", "orange", "green", "brown", "slate", "white", "red", "black", "yellow", "violet", "rose", "aqua"]
# The order of IEC 60304 as in DIN VDE 0888 and DIN EN 60794-1-1 Bbl 1.
IEC = ["red", "green", "blue", "yellow", "white", "grey", "brown", "violet", "turquoise", "black", "orange", "pink"]
# Swiss national practice, published colour list.
SWISS = ["red", "green", "yellow", "blue", "white", "violet", "orange", "black", "grey", "brown", "pink", "turquoise"]


@pytest.mark.parametrize(("code", "published"), [("TIA-598", TIA), ("IEC 60304", IEC), ("Swiss", SWISS)])
def test_order_is_the_published_one(code: str, published: list[str]) -> None:
    """The three well-established codes give the published order, in that code's own words."""
    assert colours.order(code) == published


@pytest.mark.parametrize("code", colours.codes())
def test_no_code_repeats_a_colour(code: str) -> None:
    """Within a code every colour stands once, and each is a colour that can be read and drawn."""
    read = [colours.read_colour(word) for word in colours.order(code)]
    assert None not in read
    assert len(set(read)) == len(read)


@pytest.mark.parametrize(
    ("alias", "code"),
    [("tia-598-c", "TIA-598"), ("EIA/TIA-598", "TIA-598"), ("DIN VDE 0888", "IEC 60304"), ("iec60304", "IEC 60304")],
)
def test_aliases_are_understood(alias: str, code: str) -> None:
    """Editions, national names and loose spelling lead to the code."""
    assert colours.canonical_code(alias) == code
    assert colours.order(alias) == colours.order(code)


def test_unknown_code_names_the_known_ones() -> None:
    """An unknown code is an error that lists what is known, the firm's own lists too."""
    with pytest.raises(ValueSourceError, match=r"'rainbow'.*TIA-598.*IEC 60304.*house \(own\)"):
        colours.order("rainbow", {"house": ["red"]})


@pytest.mark.parametrize(
    ("code", "position", "colour", "tracer"),
    [
        ("TIA-598", 12, "aqua", ""),
        ("TIA-598", 13, "blue", "one black stripe"),  # TIA-598-C/D: 13 to 24 take one black stripe
        ("TIA-598", 20, "black", "one yellow stripe"),  # black fibre takes yellow instead
        ("TIA-598", 25, "blue", "two black stripes"),
        ("TIA-598", 36, "aqua", "two black stripes"),
        ("TIA-598", 37, "blue", "three black stripes"),
        ("IEC 60304", 13, "red", "one black ring"),  # published loose-tube list, German and Swiss practice
        ("IEC 60304", 22, "natural", "one black ring"),  # would be black on black
        ("IEC 60304", 34, "natural", "two black rings"),
        ("Swiss", 20, "natural", "one black ring"),
    ],
)
def test_tracers_beyond_the_twelfth(code: str, position: int, colour: str, tracer: str) -> None:
    """Beyond the list the colours repeat with the code's own tracer, and black takes its exception."""
    found = colours.colour_of(code, np.array([position]))
    assert (found[0][0], found[1][0]) == (colour, tracer)


def test_positions_not_established_are_an_error() -> None:
    """Where a code's list or tracers are not established nobody gets a guess."""
    assert colours.colour_of("Sweden", np.array([8]))[0][0] == "black"
    with pytest.raises(ValueSourceError, match=r"Position 9 .*'Sweden'.*1 to 8"):
        colours.colour_of("Sweden", np.array([9]))
    with pytest.raises(ValueSourceError, match=r"Position 13 .*'Brazil'"):
        colours.colour_of("Brazil", np.array([13]))


@pytest.mark.parametrize("bad", [[0], [-1], [1.5], [float("nan")]])
def test_impossible_positions_are_an_error(bad: list[float]) -> None:
    """A position is a whole number from 1."""
    with pytest.raises(ValueSourceError, match="whole number from 1"):
        colours.colour_of("TIA-598", np.array(bad))


def test_cable_with_tubes() -> None:
    """TIA-598: the colours number the tubes first, then the cores in each; core = (tube - 1) x 12 + position."""
    cable = colours.cable_cores(96, 12).to_pydict()
    assert cable["core"] == list(range(1, 97))
    assert cable["tube"] == [(core - 1) // 12 + 1 for core in range(1, 97)]
    assert [cable["tube_colour"][i] for i in range(0, 96, 12)] == TIA[:8]
    assert cable["core_colour"] == TIA * 8
    assert set(cable["core_tracer"]) == set(cable["tube_tracer"]) == {""}


def test_more_than_twelve_tubes_take_tracers_on_the_tubes() -> None:
    """The 13th tube is the first colour again with a tracer; the cores in it have none."""
    cable = colours.cable_cores(432, 12).to_pydict()
    assert (cable["tube_colour"][144], cable["tube_tracer"][144]) == ("blue", "one black stripe")
    assert (cable["tube_colour"][-1], cable["tube_tracer"][-1]) == ("aqua", "two black stripes")
    assert set(cable["core_tracer"]) == {""}


def test_one_tube_has_no_tube_colour() -> None:
    """Blank cores_per_tube, or a tube that holds them all, is one tube: its colour is null."""
    for cable in (colours.cable_cores(24), colours.cable_cores(8, 12), colours.cable_cores(12, 12)):
        assert set(cable["tube_colour"].to_pylist()) == {None}
        assert set(cable["tube_tracer"].to_pylist()) == {""}
        assert set(cable["tube"].to_pylist()) == {1}
    assert (
        colours.cable_cores(24)["core_tracer"].to_pylist()[12:]
        == ["one black stripe"] * 7 + ["one yellow stripe"] + ["one black stripe"] * 4
    )


def test_mixed_and_short_tubes() -> None:
    """Tube sizes may differ when they are given, and the last of equal tubes may be short."""
    mixed = colours.cable_cores(30, tube_sizes="12, 12, 6")
    assert mixed.equals(colours.cable_cores(30, 12))
    assert colours.cable_cores(20, 12, "8; 12")["tube"].to_pylist() == [1] * 8 + [2] * 12


@pytest.mark.parametrize(
    ("count", "sizes", "says"),
    [
        (24, "12, 6", "add up to 18, but the cable has 24"),
        (24, "twelve, 12", "not numbers"),
        (0, "", "1 to 1728"),
        (1729, "", "1 to 1728"),
    ],
)
def test_impossible_cables_are_named(count: int, sizes: str, says: str) -> None:
    """Sizes that do not add up and counts that cannot be are errors that say so."""
    with pytest.raises(ValueSourceError, match=says):
        colours.cable_cores(count, tube_sizes=sizes)


def test_own_lists_go_first() -> None:
    """A firm's list is used for its code, also in place of a built-in one; beyond its end tracers as TIA-598."""
    extra = {"house": ["grey", "black"], "TIA-598": ["red", "blue"]}
    cable = colours.cable_cores(6, code="House", extra=extra).to_pydict()
    assert cable["core_colour"] == ["grey", "black"] * 3
    assert cable["core_tracer"] == ["", "", "one black stripe", "one yellow stripe", *["two black stripes"],
                                    "two yellow stripes"]  # fmt: skip
    assert colours.order("TIA-598", extra) == ["red", "blue"]
    assert colours.order("TIA-598") == TIA


@given(
    st.lists(
        st.tuples(
            st.integers(1, 300),
            st.sampled_from([0, 1, 4, 6, 8, 12, 24]),
            st.sampled_from(["TIA-598", "IEC 60304", "Swiss", "DIN VDE 0888"]),
        ),
        max_size=12,
    )
)
def test_many_cables_equal_single_ones(cables: list[tuple[int, int, str]]) -> None:
    """The array way gives for every cable what the single way gives, cable after cable."""
    counts, per_tube, codes = (list(c) for c in zip(*cables, strict=True)) if cables else ([], [], [])
    found = colours.many_cables(np.array(counts, int), np.array(per_tube, int), [""] * len(cables), codes)
    found.validate(full=True)
    singles = [colours.cable_cores(n, k, code=c) for n, k, c in cables]
    for row, single in enumerate(singles):
        mine = found.filter(pa.compute.equal(found["cable_row"], row)).drop_columns(["cable_row"])
        assert mine.to_pydict() == single.to_pydict()
    assert found.num_rows == sum(counts)
    assert found["core_colour"].type == pa.dictionary(pa.int32(), pa.string())


def test_many_cables_can_leave_blank_what_cannot_be_told() -> None:
    """missing="blank" leaves null an unknown code, sizes that do not add up and positions not established."""
    arguments = (np.array([4, 4, 24, 4, 4]), np.array([2, 0, 0, 2, 2]), ["", "9", "", "", ""],
                 ["rainbow", "TIA-598", "Brazil", "", None])  # fmt: skip
    with pytest.raises(ValueSourceError, match=r"rainbow.*cable 1 of 5"):
        colours.many_cables(*arguments)
    found = colours.many_cables(*arguments, missing="blank").to_pydict()
    assert found["tube"] == [1, 1, 2, 2] + [None] * 4 + [1] * 24 + [1, 1, 2, 2] * 2
    assert found["core_colour"] == [None] * 8 + colours.order("Brazil") + [None] * 12 + [None] * 8


def test_a_hundred_thousand_cores_in_no_time() -> None:
    """The colours of 100 000 cores of mixed cables are array work, not a loop over cores."""
    n = 4000
    counts, per_tube = np.resize([4, 12, 24, 48, 96], n), np.resize([0, 12, 6], n)
    codes = ["TIA-598", "IEC 60304"] * (n // 2)
    assert counts.sum() > 100_000
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        colours.many_cables(counts, per_tube, [""] * n, codes)
        taken.append(time.perf_counter() - start)
    assert min(taken) < 0.1  # 7 ms on a laptop; a loop over cores takes more than this


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Slate", "grey"), ("gray", "grey"), ("GY", "grey"), ("rose", "pink"), ("Aqua", "turquoise"),
        ("Turq.", "turquoise"),
        ("BL", "blue"), ("OR", "orange"), ("GR", "green"), ("BR", "brown"), ("SL", "grey"), ("WH", "white"),
        ("RD", "red"),
        ("BK", "black"), ("YL", "yellow"), ("VI", "violet"), ("RS", "pink"), ("AQ", "turquoise"),
        ("BU", "blue"), ("BN", "brown"), ("GN", "green"), ("YE", "yellow"), ("VT", "violet"), ("OG", "orange"),
        (" purple ", "violet"), ("rot", "red"), ("grün", "green"), ("blau", "blue"), ("gelb", "yellow"),
        ("weiß", "white"),
        ("grau", "grey"), ("braun", "brown"), ("violett", "violet"), ("türkis", "turquoise"), ("schwarz", "black"),
        ("rosa", "pink"), ("clear", "natural"), ("banana", None), ("", None), (None, None), (7, None),
    ],
)  # fmt: skip
def test_any_spelling_is_read(text: object, word: str | None) -> None:
    """Full words, abbreviations of the trade and of IEC 60757, and German words are read; nonsense is None."""
    assert colours.read_colour(text) == word


def test_a_colour_is_spelt_as_its_code_spells_it() -> None:
    """Slate is grey, rose is pink, aqua is turquoise: told in the words of the cable's code."""
    assert [colours.read_colour(t, "TIA-598") for t in ("grey", "pink", "turquoise", "red")] == [
        "slate", "rose", "aqua", "red"]  # fmt: skip
    assert [colours.read_colour(t, "IEC 60304") for t in ("slate", "rose", "aqua")] == ["grey", "pink", "turquoise"]
    assert colours.read_colour("natur", "TIA-598") == "natural"


@pytest.mark.parametrize("word", [*TIA, *IEC, "natural"])
def test_text_is_readable_on_every_colour(word: str) -> None:
    """The text colour has at least the contrast 4.5 to 1 that W3C WCAG 2 asks for."""

    def luminance(ink: str) -> float:
        parts = [int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted(luminance(ink) for ink in (colours.hex_of(word), colours.text_on(word)))
    assert (high + 0.05) / (low + 0.05) >= 4.5


def test_no_ink_for_what_is_no_colour() -> None:
    """Asking to draw a word that is no colour is an error."""
    with pytest.raises(ValueSourceError, match="banana"):
        colours.hex_of("banana")
