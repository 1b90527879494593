"""What the demo firm's data hold of light, as their own README tells it, is what the answers say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pytest import approx

import fibrebook

DATA = Path(__file__).resolve().parents[1] / "data"


@pytest.fixture(scope="module")
def reg(tmp_path_factory):
    """A register with the demo workbooks in it."""
    found = fibrebook.create(tmp_path_factory.mktemp("demo") / "register", name="demo")
    for book in ("farms", "schools", "harbour", "campus", "works", "visits"):
        fibrebook.bring_in(found, DATA / "demo" / f"{book}.xlsx", by="ts", why="test")
    return found


def planted(what: str) -> list[tuple[str, str, str]]:
    """(site, where, value) of a planted fact, as the README has it."""
    text = (DATA / "README.md").read_text(encoding="utf-8")
    return re.findall(rf"^\| {re.escape(what)} \| (.*?) \| (.*?) \| (.*?) \|$", text, re.M)


def test_channels_without_a_test(reg):
    """`untested` names exactly the channels that the README tells to be untested or only light-checked."""
    found = fibrebook.untested(reg)
    found = found[found["channel"] != ""]
    for what, reason in (
        ("channels without any test", "has light, was never tested"),
        ("channels with a light check only", "has light, only a light check"),
    ):
        told = {(site, channel) for site, _, names in planted(what) for channel in names.split(", ")}
        mine = found[found["reason"] == reason]
        assert set(zip(mine["site"], mine["channel"], strict=True)) == told


def test_tests_over_their_limit(reg):
    """Acceptance by ISO/IEC 14763-3 finds the planted fails and doubtful ones, and no others."""
    found = fibrebook.acceptance(reg)
    counts = found[found["verdict"] != "pass"].groupby(["site", "verdict"], observed=True).size().to_dict()
    told = {}
    for site, _, value in planted("loss tests over or near the limit"):
        told |= {(site, part.split()[1]): int(part.split()[0]) for part in value.split(", ")}
    assert counts == told


def test_links_tested_before_a_joint_was_made_again(reg):
    """The cores tested before a splice of theirs was made anew are those of the planted links."""
    found = fibrebook.untested(reg)
    stale = found[found["reason"] == "tested before it was last disturbed"]
    told = planted("tested before a joint was made again")
    assert set(stale["site"]) == {site for site, _, _ in told}
    for _, row in stale.iterrows():
        assert f"tested {row['tested_on']:%Y-%m-%d}, a joint made {row['disturbed_on']:%Y-%m-%d}" == told[0][2]
    first, last = told[0][1].split(" to ")
    trace = fibrebook.trace(reg, "Quarry", ("port", *first.split("/")))
    path = trace.loc[trace["kind"] == "core", ["at", "name"]].to_numpy().tolist()
    assert last.split("/")[0] in set(trace["at"])
    for cable, core in path:
        cores = stale.loc[stale["cable"] == cable, "cores"].iloc[0]
        assert core in re.findall(r"\d+", cores)


def test_the_gainer_is_explained(reg):
    """Quarry's closure J2 reads -0.04 and 0.12 dB: 0.04 dB is the joint's loss, and the note says gainer."""
    found = fibrebook.splice_readings(reg).set_index("enclosure")
    assert found.loc["J2", "mean_db"] == approx((-0.04 + 0.12) / 2)
    assert "gainer" in found.loc["J2", "note"]
    assert found.loc["J1", "mean_db"] == approx((0.09 + 0.03) / 2) and found.loc["J1", "note"] == ""


def test_polarity_finds_the_planted_slip(reg):
    """Exactly the channel that the README tells to be crossed is, and a cord is named."""
    found = fibrebook.polarity(reg)
    crossed = found[found["verdict"] == "transmit reaches transmit"]
    told = [(site, channel) for site, channel, _ in planted("polarity slip")]
    assert list(zip(crossed["site"], crossed["channel"], strict=True)) == told
    assert crossed["turned_by"].str.startswith("cord").all()


def test_broken_cores_are_located_where_they_were_found(reg):
    """An OTDR shot from end A at the recorded distance falls into the recorded cable, that far along."""
    for site, where, value in planted("faulty core"):
        cable, core = where.split(" core ")
        metres = float(value.removeprefix("at ").removesuffix(" m"))
        row = fibrebook.locate(reg, site, ("core", cable, core), metres).iloc[0]
        assert row["at"] == cable
        # marked and estimated cables hold 1.5 % more fibre than sheath
        assert row["along_m"] == approx(metres, rel=0.016)


def test_every_loss_adds_up(reg):
    """For every channel, direction and wavelength the contributions add up to the headroom table's loss."""
    rows = [row for site in ("Quarry", "Mill") for row in fibrebook.headroom(reg, site).to_dict("records")]
    for row in rows:
        start = ("channel", row["channel"], row["direction"])
        parts = fibrebook.contributions(reg, row["site"], start, row["wavelength_nm"])
        assert parts["sum_db"].iloc[-1] == approx(row["loss_db"])


def test_the_likely_loss_is_below_the_worst(reg):
    """All over the demo, what 99.9 % keep is below the worst case, and above the mean."""
    found = fibrebook.loss_spread(reg).dropna(subset=["mean_db"])
    assert len(found) > 200
    assert (found["mean_db"] <= found["loss_99_9_db"]).all()  # equal where a test tells the loss: no more is likely
    spread = found["mean_db"] < found["worst_db"]
    assert spread.any() and (found.loc[spread, "mean_db"] < found.loc[spread, "loss_99_9_db"]).all()
    fixed = found["deviation_db"] > 0.03
    assert (found.loc[fixed, "loss_97_7_db"] <= found.loc[fixed, "worst_db"] + 0.05).all()
