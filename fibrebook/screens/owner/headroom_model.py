"""Headroom as the screen shows it, without any widget: channels by what is left, tests that are missing, what if."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fibrebook.analyses.budgets.headroom import headroom
from fibrebook.analyses.budgets.room_for import room_for
from fibrebook.analyses.tested.untested import untested
from fibrebook.losses.budget import tightness

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

SHOWN = (
    "site", "channel", "application", "headroom_db", "over_m", "binding", "loss_db", "loss_by_records_db",
    "loss_by_tests_db", "limit_db", "wavelength_nm", "tests",
)  # fmt: skip
RIGHT = "transmit reaches receive"


def tightest(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the tightest row of each channel, those without a figure after those with one, tightest first."""
    order = tightness(rows["headroom_db"], rows["over_m"])
    found = rows.iloc[np.argsort(order, kind="stable")]  # no figure (NaN) comes last
    found = found.drop_duplicates(["site", "channel"], keep="first")
    return found.reset_index(drop=True)


def channels(reg: Register, site: str | None = None) -> pd.DataFrame:
    """Return one row a channel, tightest first: what is left, what binds, what else is wrong, and what of it was
    never tested (missing_tests); then room for more joints."""
    rows = headroom(reg, site)
    found = tightest(rows)[[*SHOWN]]
    room = room_for(reg, site)[["site", "channel", "splices", "connections"]]
    room = room.rename(columns={"splices": "room_for_splices", "connections": "or_connections"})
    found = found.merge(room, on=["site", "channel"], how="left").merge(_also(rows), on=["site", "channel"], how="left")
    missing: dict[tuple[str, str], list[str]] = {}
    for row in untested(reg, site).to_dict("records"):
        if isinstance(row["channel"], str):
            told = f"{row['cable']} cores {row['cores']}: {row['reason'].removeprefix('has light, ')}"
            missing.setdefault((row["site"], row["channel"]), []).append(told)
    found["missing_tests"] = [
        "; ".join(missing.get((s, c), [])) for s, c in zip(found["site"], found["channel"], strict=True)
    ]
    order = ["site", "channel", "application", "headroom_db", "over_m", "binding", "also", "missing_tests"]
    found = found[order + [c for c in found.columns if c not in order]]
    found["tests"] = found["tests"].fillna("")
    return found.round({"over_m": 1, **dict.fromkeys([c for c in found.columns if c.endswith("_db")], 2)})


def _also(rows: pd.DataFrame) -> pd.DataFrame:
    """What else is wrong with a channel: polarity, light too strong for a receiver, tests that failed or found more."""
    told: dict[tuple[str, str], list[str]] = {}
    for row in rows[["site", "channel", "polarity", "too_strong_db", "tests_binding"]].to_dict("records"):
        mine = told.setdefault((row["site"], row["channel"]), [])
        if row["polarity"] != RIGHT:
            mine.append(row["polarity"])
        if row["too_strong_db"] == row["too_strong_db"]:
            mine.append(f"light up to {row['too_strong_db']:.1f} dB too strong")
        if isinstance(row["tests_binding"], str):
            mine.append(f"loss test {row['tests_binding']}")
    import pandas as pd

    found = [(*key, "; ".join(dict.fromkeys(texts))) for key, texts in told.items()]
    return pd.DataFrame(found, columns=["site", "channel", "also"])


def verdict(row: dict[str, Any]) -> str:
    """Say in one sentence what a row of `what_if` or `headroom` means."""
    left, binding = row["headroom_db"], row["binding"]
    if left is None or left != left:
        return f"{row['application']}: no figure can be given: {binding}."
    length = ""
    if row.get("length_max_m") is not None and row["length_max_m"] == row["length_max_m"]:
        length = f" {row['length_m']:.0f} m of at most {row['length_max_m']:.0f} m."
    strong = row.get("too_strong_db")
    too_strong = ""
    if strong is not None and strong == strong:
        mend = row.get("attenuator_db")
        how = f"; an attenuator of {mend:.0f} dB mends it" if mend is not None and mend == mend else ""
        too_strong = f" The light may be {strong:.1f} dB too strong for the receiver{how}."
    budget = f"{row['loss_db']:.2f} dB lost of {row['limit_db']:.2f} dB; {binding} binds.{_tests_in_words(row)}"
    if left < 0:
        return f"{row['application']} would NOT run: {-left:.2f} dB too much. {budget}{length}{too_strong}"
    if row.get("over_m") is not None and row["over_m"] > 0:
        return f"{row['application']} would NOT run: {row['over_m']:.0f} m too long. {budget}{length}{too_strong}"
    return f"{row['application']} would run, {left:.2f} dB left. {budget}{length}{too_strong}"


def _tests_in_words(row: dict[str, Any]) -> str:
    """Which loss tests the figure comes from, and what it would be by the records alone."""
    if not isinstance(row.get("tests"), str) or not row["tests"]:
        return ""
    carried = f", carried ({row['tests_carried']})" if isinstance(row.get("tests_carried"), str) else ""
    binding = f" Loss test {row['tests_binding']}." if isinstance(row.get("tests_binding"), str) else ""
    return f" By loss test {row['tests']}{carried}; by the records alone {row['loss_by_records_db']:.2f} dB.{binding}"
