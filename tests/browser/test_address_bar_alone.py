"""The address bar's side in the page, by itself: it asks until the page has gone there, and writes no old answer over it."""

from __future__ import annotations

from alone import Alone, Control

from fibrebook.screens.front_door.address_bar import AddressBar

OPEN = """hash => {
  document.body.dataset.voila = "";
  const home = document.querySelector("main");
  home.classList.add("fb-home");
  home.dataset.takesIn = "true";
  home.insertAdjacentHTML("beforeend", '<a id="spares" href="#/spares/Mill">Spares</a>');
  if (hash) history.replaceState(null, "", hash);
}"""


def address_bar(alone: Alone, hash_: str = "") -> Control:
    """The front page's address bar, at an address, the page open."""
    alone.page.evaluate(OPEN, hash_)
    return alone.put(AddressBar, "bar", shown="/", title="Firm")


def at(alone: Alone) -> str:
    """What the browser's address says."""
    return str(alone.page.evaluate("location.hash"))


def steps(alone: Alone) -> int:
    """How many steps Back could take."""
    return int(alone.page.evaluate("history.length"))


def gone(made: Control, **shown: str) -> None:
    """Python went where it was asked to."""
    made.python(**shown)
    made.message({"gone": made.sent[-1]["ask"]})


def test_address_bar_asks_where_a_bookmark_leads_and_keeps_it(clocked: Alone) -> None:
    """Until the page has gone there, nothing that is shown is written over it; it asks again, the same question."""
    made = address_bar(clocked, "#/headroom/Mill")
    clocked.page.clock.run_for(2000)
    assert [m["address"] for m in made.sent] == ["/headroom/Mill"] * 2
    assert len({m["ask"] for m in made.sent}) == 1
    made.python(title="Firm again")
    assert at(clocked) == "#/headroom/Mill"
    gone(made, shown="/headroom/Mill", title="Mill")
    assert at(clocked) == "#/headroom/Mill" and clocked.page.title() == "Mill"
    clocked.page.clock.run_for(2000)
    assert len(made.sent) == 2
    made.python(shown="/headroom/Mill/channel/CH1")
    assert at(clocked) == "#/headroom/Mill/channel/CH1"


def test_address_bar_a_late_answer_is_not_written_over_where_one_went_since(alone: Alone) -> None:
    """Back and forth at once: the answer to Back comes when one is forth again."""
    made = address_bar(alone, "")
    made.python(shown="/spares/Mill")
    alone.page.go_back()
    made.comes("m.sent.length === 1")
    alone.page.go_forward()
    made.comes("m.sent.some((one) => one.address === '/spares/Mill')")
    first, second = made.sent[0]["ask"], made.sent[-1]["ask"]
    assert first != second
    made.python(shown="/")
    made.message({"gone": first})
    assert at(alone) == "#/spares/Mill"
    made.python(shown="/spares/Mill")
    made.message({"gone": second})
    assert at(alone) == "#/spares/Mill"


def test_address_bar_a_link_is_a_step_and_an_address_told_otherwise_is_none(alone: Alone) -> None:
    """Back from a link's page leads to where one was; back from a wrong address not to the wrong address."""
    made = address_bar(alone, "")
    alone.page.click("#spares")
    made.comes("m.sent.length === 1")
    assert made.sent[0]["address"] == "/spares/Mill" and at(alone) == "#/"
    before = steps(alone)
    gone(made, shown="/spares/Mill")
    assert at(alone) == "#/spares/Mill" and steps(alone) == before + 1
    alone.page.evaluate("() => { location.hash = '#/nothing'; }")
    made.comes("m.sent.some((one) => one.address === '/nothing')")
    before = steps(alone)
    gone(made, shown="/")
    assert at(alone) == "#/" and steps(alone) == before
