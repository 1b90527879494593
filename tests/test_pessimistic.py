"""Where unlike multimode cores meet, the loss is that of all modes: whoever tells it says that a laser loses less."""

from __future__ import annotations

import pytest
from light_plant import duplex, register

import fibrebook
from fibrebook.light.meeting import meeting
from fibrebook.light.multimode import PESSIMISTIC

UNLIKE = [("OM1", 100.0), ("OM3", 100.0)]


def test_the_words_say_so():
    """What is said beside the figure names the reason and the direction of the doubt."""
    assert "pessimistic for a laser" in PESSIMISTIC and "all modes" in PESSIMISTIC


@pytest.mark.parametrize("application", ["1000BASE-SX", "10GBASE-SR"])
def test_every_teller_of_the_figure_says_so(tmp_path, application):
    """The part in `contributions`, the two fibres' meeting, advice of the joint and of the channel that is over its limit."""
    reg = register(duplex(application, via=UNLIKE), tmp_path / "r")
    parts = fibrebook.contributions(reg, "S1", ("channel", "CH1", "a to b"))
    mismatch = parts[parts["kind"] == "mismatch"]
    assert len(mismatch) == 1 and mismatch["reckoning"].str.contains(PESSIMISTIC, regex=False).all()
    assert PESSIMISTIC in meeting("OM1", "OM3").words
    advice = fibrebook.advice(reg)
    for check in ("core mismatch", "loss over the limit"):
        told = advice.loc[advice["check"] == check, "what"]
        assert len(told) and told.str.contains(PESSIMISTIC, regex=False).all()


def test_like_fibres_say_nothing_of_it(tmp_path):
    """Where cores are alike, or of single-mode, nobody speaks of modes."""
    assert PESSIMISTIC not in meeting("OM3", "OM4").words + meeting("OS2", "G.657.A1").words
    reg = register(duplex("10GBASE-LR", length_m=20_000.0), tmp_path / "r")
    assert not fibrebook.advice(reg)["what"].str.contains("laser").any()
