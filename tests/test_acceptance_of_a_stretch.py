"""One stretch has one verdict, however it is named and in which edition; what failed is never passed over."""

from __future__ import annotations

import datetime as dt

import pytest
from click.testing import CliRunner
from light_plant import duplex, register
from pytest import approx

import fibrebook
from fibrebook.cli import cli
from fibrebook.errors import RuleError, ValueSourceError
from fibrebook.light.catalogue import editions
from fibrebook.reference import tables

DAY = dt.date(2026, 3, 1)
PORTS = {
    "from_at": "P1", "from_port": "1", "from_position": "A", "to_at": "P2", "to_port": "1", "to_position": "A",
}  # fmt: skip
BACK = {
    "from_at": "P2", "from_port": "1", "from_position": "A", "to_at": "P1", "to_port": "1", "to_position": "A",
}  # fmt: skip
FROM_ONE = {k: v for k, v in PORTS.items() if k.startswith("from")}
JUDGED = ("limit_db", "fibre_db", "ends", "ends_db", "connections", "splices", "splices_db", "verdict", "side", "why")


def put_tests(plant, *names, **more):
    """A loss test of each way in which a stretch is named."""
    for name in names:
        row = {
            "method": "loss test", "wavelength_nm": 850, "reference_method": "one-cord", "loss_db": 3.0,
            "tested_on": DAY, "direction": "a to b",
        }  # fmt: skip
        plant.put("tests", test=f"T{len(plant.rows['tests']) + 1}", **row | name | more)
    return plant


def core(cable, number=1):
    """A stretch named by a core."""
    return {"cable": cable, "core": number}


def judged(plant, where, **named):
    """The acceptance table, one row a test."""
    return fibrebook.acceptance(register(plant, where), **named).set_index("test")


def same(found):
    """Whether all tests are judged alike."""
    for column in JUDGED:
        values = found[column].tolist()
        assert values == [approx(values[0]) if isinstance(values[0], float) else values[0]] * len(values), column
    return found.iloc[0]


@pytest.mark.parametrize("method", ["one-cord", "two-cord", "three-cord"])
def test_by_ports_by_core_or_by_a_core_and_a_port(tmp_path, method):
    """600 m of OM3, pigtails at both ends: 2.1 dB of fibre, 0.6 dB of splices and the ends, whoever names it and how."""
    plant = duplex("1000BASE-SX", "OM3", 600.0)
    names = [
        PORTS,
        BACK,
        core("C1"),
        FROM_ONE | core("C1"),
        {k.replace("from", "to"): v for k, v in FROM_ONE.items()} | core("C1"),
    ]
    row = same(judged(put_tests(plant, *names, reference_method=method), tmp_path / "r"))
    ends = {"one-cord": 2, "two-cord": 1, "three-cord": 0}[method]
    assert (row["splices"], row["ends"]) == (2, ends)
    # end connections: 0.50 dB multimode by Corrigendum 1 of ISO/IEC 14763-3 (seen on a test-equipment maker's page)
    assert row["limit_db"] == approx(0.6 * 3.5 + 2 * 0.3 + ends * 0.5)


def test_through_splices_by_any_core_of_the_way(tmp_path):
    """A test made after the closure was spliced went through it: by either cable's core it is the ports' stretch."""
    plant = duplex("1000BASE-SX", "OM3", 600.0, splices=1)
    for row in plant.rows["splices"]:
        row["made_on"] = DAY
    row = same(judged(put_tests(plant, PORTS, core("C1"), core("C2")), tmp_path / "r"))
    assert row["splices"] == 3
    assert row["limit_db"] == approx(0.6 * 3.5 + 3 * 0.3 + 2 * 0.5)


@pytest.mark.parametrize("made_on", [DAY + dt.timedelta(days=1), None])
def test_before_the_splice_the_light_went_no_farther(tmp_path, made_on):
    """Before the closure was spliced, or where nobody knows the day, a core's test is of its own cable and pigtail."""
    plant = duplex("1000BASE-SX", "OM3", 600.0, splices=1)
    for row in plant.rows["splices"]:
        row["made_on"] = made_on
    row = judged(put_tests(plant, core("C1")), tmp_path / "r").loc["T1"]
    assert row["splices"] == 1
    assert row["limit_db"] == approx(0.3 * 3.5 + 1 * 0.3 + 2 * 0.5)


def test_a_bare_core_is_its_cable_alone(tmp_path):
    """A core made off nowhere: its fibre and the connections at the bare ends that the reference leaves in."""
    row = judged(put_tests(duplex("1000BASE-SX", "OM3", 600.0), core("C1", 5)), tmp_path / "r").loc["T1"]
    assert (row["splices"], row["connections"], row["limit_db"]) == (0, 0, approx(0.6 * 3.5 + 2 * 0.5))


def test_a_core_with_a_port_of_another_path_is_not_guessed(tmp_path):
    """A port that the core does not come out at, and no other: nobody knows what was tested."""
    other = FROM_ONE | {"from_position": "B"}
    row = judged(put_tests(duplex("1000BASE-SX", "OM3", 600.0), other | core("C1")), tmp_path / "r").loc["T1"]
    assert row["verdict"] == "not known" and "not told" in row["why"]


def test_a_later_test_under_another_name_stands_against_a_failed_one(tmp_path):
    """Failed by ports, mended and passed by core: nothing is left to do; each test names the later one."""
    plant = duplex("1000BASE-SX", "OM3", 600.0)
    put_tests(plant, PORTS, loss_db=9.0)
    put_tests(plant, core("C1"), tested_on=DAY + dt.timedelta(days=9))
    reg = register(plant, tmp_path / "r")
    found = fibrebook.acceptance(reg).set_index("test")
    assert found["later_test"].fillna("").to_dict() == {"T1": "T2", "T2": ""}
    assert fibrebook.failed_tests(reg).empty
    with reg.edit(by="ts", why="other way") as edit:  # the light going the other way is another measurement
        edit.put("tests", [{"site": "S1", "test": "T2", "direction": "b to a"}])
    assert fibrebook.failed_tests(reg)["test"].tolist() == ["T1"]


def test_a_core_made_off_after_its_test_is_out_of_date(tmp_path):
    """Tested on the drum, made off later: the pigtails were in no test."""
    plant = put_tests(duplex("1000BASE-SX", "OM3", 600.0), core("C1"), core("C1", 2))
    for row in plant.rows["terminations"]:
        row["made_on"] = DAY + dt.timedelta(days=3)
    found = fibrebook.untested(register(plant, tmp_path / "r"))
    assert found["reason"].tolist() == ["tested before it was last disturbed"]


# --- editions ---------------------------------------------------------------------------------------------------------

ENDS = {  # edition: what an end may lose, multimode and single-mode [dB]; how it is known
    # seen on a test-equipment maker's page of January 2016 that tells what the corrigendum changed
    "ISO/IEC 14763-3:2014/Cor 1": (0.50, 0.75, "seen in a secondary text"),
    # single-mode seen on the same page ("changed from 0.65"); multimode from memory
    "ISO/IEC 14763-3:2014": (0.30, 0.65, ""),
    # seen on a test-equipment maker's page on reference-grade connectors, which names no edition
    "ISO/IEC 14763-3:2006": (0.30, 0.50, "seen in a secondary text"),
    # the same page's newer version: multimode 0.50 since edition E
    "TIA-568.3-E": (0.50, 0.50, "seen in a secondary text"),
    "TIA-568.3-D": (0.30, 0.50, "seen in a secondary text"),
}


@pytest.mark.parametrize("edition", ENDS)
def test_every_edition_is_a_choice_that_says_how_it_is_known(tmp_path, edition):
    """A permanent link judged by each edition, as an argument and as the firm's choice: limit, edition, pedigree."""
    for mode, (application, fibre, nm, per_km) in enumerate(
        (("1000BASE-SX", "OM3", 850, 3.5), ("10GBASE-LR", "OS2", 1310, 0.4))
    ):
        plant = put_tests(duplex(application, fibre, 600.0), PORTS, wavelength_nm=nm, cord_grade="reference")
        row = judged(plant, tmp_path / f"{mode}", style=edition).loc["T1"]
        assert row["limit_db"] == approx(0.6 * per_km + 2 * 0.3 + 2 * ENDS[edition][mode])
        assert row["edition"] == edition
        assert edition.split("/Cor")[0] in row["known_from"]
        assert any(f"({basis}" in row["known_from"] for basis in tables.BASES)
        assert ENDS[edition][2] in row["known_from"]
        chosen = [{"choice": "acceptance", "value": edition}]
        reg = register(plant, tmp_path / f"{mode} chosen", choices=chosen)
        assert fibrebook.acceptance(reg)["limit_db"].tolist() == [approx(row["limit_db"])]


def test_the_old_figures_are_not_the_default_of_a_two_ended_link(tmp_path):
    """Without a choice a permanent link is judged by the newest edition, and each row says so."""
    row = judged(put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS), tmp_path / "r").loc["T1"]
    assert (row["ends_db"], row["edition"]) == (approx(2 * 0.5), "ISO/IEC 14763-3:2014/Cor 1")


@pytest.mark.parametrize("standard", editions.ACCEPTANCE)
def test_a_standard_without_edition_is_its_newest_or_the_firm_s(tmp_path, standard):
    """The name of the standard stands for the newest; where the firm's sources name an edition of it, for that one."""
    plant = put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS, cord_grade="reference")
    newest, *older = editions.ACCEPTANCE[standard]
    assert judged(plant, tmp_path / "r", style=standard).loc["T1", "edition"] == newest
    reg = register(plant, tmp_path / "own", choices=[{"choice": "sources", "value": older[-1]}])
    assert set(fibrebook.acceptance(reg, style=standard)["edition"]) == {older[-1]}
    assert set(fibrebook.acceptance(reg, style=newest)["edition"]) == {newest}


def test_a_firm_s_own_figure_goes_before_every_edition(tmp_path):
    """A client's 0.4 dB at the ends, kept as a reference value, is the limit whichever edition is asked for."""
    own = {
        "row": "1", "reference_table": "component_losses", "component": "connection", "mode": "multimode",
        "grade": "reference to standard", "quantity": "97 %", "value": 0.4, "unit": "dB", "source": "a client's letter",
        "basis": "seen",
    }  # fmt: skip
    plant = put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS)
    reg = register(plant, tmp_path / "r", reference_values=[own])
    for edition in editions.ACCEPTANCE["ISO/IEC 14763-3"]:
        row = fibrebook.acceptance(reg, style=edition).iloc[0]
        assert row["ends_db"] == approx(0.8)
        assert row["known_from"] == "a client's letter (seen)"


def test_an_edition_that_is_none_is_named(tmp_path):
    """A slip in the name of an edition is told with the nearest, and cannot be chosen."""
    reg = register(put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS), tmp_path / "r")
    with pytest.raises(ValueSourceError, match=r"TIA-568\.3-D"):
        fibrebook.acceptance(reg, style="TIA-568.3-F")
    with pytest.raises(RuleError, match=r"TIA-568\.3-F"), reg.edit(by="ts", why="test") as edit:
        edit.put("choices", [{"choice": "acceptance", "value": "TIA-568.3-F"}])


def test_newest_first_is_said_where_the_stricter_is_not_the_default():
    """Of one standard some older edition allows less; that the newest is the default all the same is written down."""
    for mode in (0, 1):
        iso = [ENDS[e][mode] for e in editions.ACCEPTANCE["ISO/IEC 14763-3"]]
        assert iso[0] == max(iso) > min(iso)
    for told in (editions.__doc__, fibrebook.acceptance.__doc__):
        assert "newest" in told and "stricte" in told


# --- what failed ------------------------------------------------------------------------------------------------------


def said(where, *more):
    """What the command `acceptance` prints."""
    asked = ["acceptance", "--register", str(where), *more]
    return CliRunner().invoke(cli, asked, catch_exceptions=False).output


def test_every_test_passed_is_never_said_above_a_failed_one(tmp_path):
    """A failed OTDR test is told by the command though every loss test passed; mended, the good word comes back."""
    plant = put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS)
    put_tests(plant, PORTS, method="OTDR", reference_method=None, verdict="fail", loss_db=None)
    reg = register(plant, tmp_path / "r")
    assert "every" not in said(tmp_path / "r") and "OTDR" in said(tmp_path / "r") and "T2" in said(tmp_path / "r")
    with reg.edit(by="ts", why="mended") as edit:
        edit.put("tests", [{"site": "S1", "test": "T2", "verdict": "pass"}])
    assert "every loss test passed" in said(tmp_path / "r")


def test_no_test_is_not_every_test(tmp_path):
    """Where nothing was tested nothing passed."""
    register(duplex("1000BASE-SX", "OM3", 600.0), tmp_path / "r")
    told = said(tmp_path / "r")
    assert "passed" not in told and "no loss tests" in told


def test_the_side_is_printed(tmp_path):
    """A marginal test says on which side of the limit it lies, in the command and in advice."""
    plant = put_tests(duplex("1000BASE-SX", "OM3", 600.0), PORTS, loss_db=3.75, verdict="pass")  # limit 3.70 dB
    reg = register(plant, tmp_path / "r")
    assert "marginal, over the limit" in " ".join(said(tmp_path / "r").split())
    advice = fibrebook.advice(reg)
    (what,) = advice.loc[advice["check"] == "test over its limit", "what"]
    assert "marginal, over the limit" in what and "ISO/IEC 14763-3:2014/Cor 1" in what


def test_front_page_and_van_ask_the_same_teller(tmp_path):
    """A failed OTDR test asks for attention and for the instruments, until a later one of its method stands against it."""
    from fibrebook.screens.front_door.attention import failed_tests

    plant = duplex("1000BASE-SX", "OM3", 600.0)
    put_tests(plant, PORTS, method="OTDR", verdict="fail", loss_db=None)
    put_tests(plant, PORTS, tested_on=DAY + dt.timedelta(days=1))
    reg = register(plant, tmp_path / "r")
    assert failed_tests(reg)["what"].tolist() == ["T1 at 850 nm, OTDR, written down as failed"]
    assert "1 failed test(s), and none since" in fibrebook.van_list(reg, "S1")["why"].tolist()
    with reg.edit(by="ts", why="again") as edit:
        again = PORTS | {"site": "S1", "test": "T3", "method": "OTDR", "wavelength_nm": 850, "direction": "a to b"}
        edit.put("tests", [again | {"verdict": "pass", "tested_on": DAY + dt.timedelta(days=2)}])
    assert failed_tests(reg).empty
