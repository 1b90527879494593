"""Labels and words: order, digits, the next label, the nearest word, lists as people say them."""

from __future__ import annotations

import pytest
from hand_plant import Plant
from hypothesis import given
from hypothesis import strategies as st
from light_plant import register

import fibrebook
from fibrebook.errors import NotFoundError, RuleError
from fibrebook.words.labels import bare, folded, natural, natural_rank, next_labels, whole_number
from fibrebook.words.lists import both, either, runs_of
from fibrebook.words.nearest import did_you_mean, nearest
from fibrebook.words.spelling import parted


def test_two_stands_before_ten_and_capitals_beside_small_letters():
    """Labels are sorted as people sort them, and the rank agrees with the sort key."""
    labels = ["b10", "B2", "a1", "10", "2", "b2"]
    assert sorted(labels, key=lambda x: (natural(x), x)) == ["2", "10", "a1", "B2", "b2", "b10"]
    assert [labels[i] for i in natural_rank(labels).argsort()] == ["2", "10", "a1", "B2", "b2", "b10"]


@given(st.text(max_size=8))
def test_a_whole_number_is_what_int_reads(text):
    """No text of figures is taken for a number that `int` cannot read: raised figures, fractions and signs are none."""
    found = whole_number(text)
    assert found is None or (found == int(text) and found >= 0)


@pytest.mark.parametrize(
    ("text", "number"), [("7", 7), ("007", 7), (" 3 ", 3), ("²", None), ("1.0", None), ("-3", None), ("", None)]
)
def test_whole_numbers(text, number):
    """Digits alone make a number, with zeros before it or not."""
    assert whole_number(text) == number


@pytest.mark.parametrize(
    ("labels", "count", "after"),
    [
        (["PC-007", "PC-008", None], 2, ["PC-009", "PC-010"]), (["PC-9", "PC-10"], 1, ["PC-11"]), (["T0041"], 1, ["T0042"]),
        ([], 3, ["T1", "T2", "T3"]), (["old", "K9²"], 1, ["T1"]), (["099"], 2, ["100", "101"]), (["K1"], 0, []),
    ],
)  # fmt: skip
def test_next_labels_keep_the_way_of_writing(labels, count, after):
    """The next label has the head and the zeros of the last; where no label ends in a figure the first one is given."""
    assert next_labels(labels, count, "T1") == after


def test_folding():
    """Case, width and blanks make no difference; punctuation parts words, or is left out altogether."""
    assert folded("  Old   MILL ") == "old mill" == folded("Ｏld mill")
    assert parted("P1/12 (rear), C-7") == ["p1", "12", "rear", "c", "7"]
    assert bare("1000Base-LX ") == "1000baselx"


def test_the_nearest_word():
    """Case alone is the nearest; figures may be asked to agree; nothing near gives what there is."""
    assert nearest("c7", ["C17", "C7", "D7"])[0] == "C7"
    assert nearest("Pannel 1", ["Panel 2", "Panel 1"], same_figures=True) == ["Panel 1"]
    assert nearest("mill", ["The Old Mill House and Yard"]) == ["The Old Mill House and Yard"]
    assert did_you_mean("cabels", ["cables", "cores"], 1) == "did you mean 'cables'?"
    assert did_you_mean("zz", ["a", "b"]) == "there are: a, b"
    assert did_you_mean("zz", []) == "there are none"


def test_lists_in_words():
    """Lists are joined and runs of numbers told as people say them."""
    assert both(["a", "b", "c"]) == "a, b and c"
    assert (either(["a", "b"]), either(["a"]), both([])) == ("a or b", "a", "")
    assert runs_of([3, 1, 2, 4, 9, 10, 12]) == "1 to 4, 9, 10, 12"


def test_a_raised_figure_is_no_core_number(tmp_path):
    """Core "²" is told to be none of the cable's cores; it used to end in a traceback."""
    reg = register(Plant().panel("P1").panel("P2").cable("C1", "P1", "P2"), tmp_path / "r")
    with pytest.raises(NotFoundError, match="has no core '²'"):
        fibrebook.trace(reg, "S1", ("core", "C1", "²"))


def test_a_raised_figure_is_no_size_of_a_tube(tmp_path):
    """Tube sizes with a raised figure break the rule on tube sizes; they used to end in a traceback."""
    plant = Plant().panel("P1").panel("P2").cable("C1", "P1", "P2", cores=4, tube_sizes="², 2")
    with pytest.raises(RuleError, match="do not add up"):
        register(plant, tmp_path / "r")
