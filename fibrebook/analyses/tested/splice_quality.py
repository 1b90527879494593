"""How well the firm splices: by engineer, splicing machine, month or cable, with a control chart."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.errors import NotFoundError
from fibrebook.light.catalogue.values import Values
from fibrebook.light.control_chart import Floats, Ints, individuals_charts, outside
from fibrebook.snapshot.analysis import analysis
from fibrebook.snapshot.snapshot import PlantSnapshot

BY = ("engineer", "splicer", "month", "cable")
COLUMNS = ("site", "enclosure", "loss_db", "loss_basis", "made_on", "made_by", "splicer")
SINGLE = pa.schema(
    [
        ("group", pa.string()), ("basis", pa.string()), ("site", pa.string()), ("enclosure", pa.string()),
        ("place", pa.string()), ("cable", pa.string()), ("made_on", pa.date32()), ("loss_db", pa.float64()),
        ("moving_range_db", pa.float64()), ("centre_db", pa.float64()), ("lower_db", pa.float64()),
        ("upper_db", pa.float64()), ("range_upper_db", pa.float64()), ("outside", pa.bool_()),
    ]
)  # fmt: skip


@analysis
def splice_quality(seen: PlantSnapshot, by: str = "engineer", site: str | None = None) -> pa.Table:
    """Sum up the losses of all splices, those of pigtails too, by group and by how the loss is known.

    Parameters
    ----------
    by : "engineer", "splicer" (machine), "month" (of making) or "cable" (a splice counts for both its cables)

    Returns
    -------
    DataFrame, one row a group and basis: group, basis (estimated by the splicer, measured), splices (with a loss),
    without_loss (of the group, not counted), mean_db, median_db, point_95_db, most_db, over (how many are over the
    usual limit), over_share, limit_db (that limit: practice, 0.1 dB), centre_db, lower_db, upper_db (of the control
    chart: mean +- 2.66 mean moving range), outside (how many lie outside it), gainers (below nothing).
    """
    splices, values = _splices(seen, by), seen.values
    chart = _charted(values, splices)
    loss = chart["loss_db"].to_numpy()
    part, first = _parts(chart)
    splices_of = np.bincount(part, minlength=len(first))
    lacking = splices.filter(splices["loss_db"].is_null())["group"].value_counts()
    lacking_of = dict(zip(lacking.field(0).to_pylist(), lacking.field(1).to_pylist(), strict=True))
    limit_db = values.practice("splice usual limit")
    over = np.bincount(part, loss > limit_db)
    group = chart["group"].take(first)
    ordered = loss[np.lexsort((loss, part))]
    columns = {
        "group": group,
        "basis": chart["basis"].take(first),
        "splices": splices_of,
        "without_loss": [lacking_of.get(g, 0) for g in group.to_pylist()],
        "mean_db": np.bincount(part, loss) / splices_of,
        "median_db": _point(ordered, first, splices_of, 0.5),
        "point_95_db": _point(ordered, first, splices_of, 0.95),
        "most_db": ordered[first + splices_of - 1],
        "over": over.astype(np.int64),
        "over_share": over / splices_of,
        "limit_db": np.full(len(first), limit_db),
        **{name: chart[name].take(first) for name in ("centre_db", "lower_db", "upper_db")},
        "outside": np.bincount(part, chart["outside"].to_numpy()).astype(np.int64),
        "gainers": np.bincount(part, loss < 0).astype(np.int64),
    }
    return pa.table(columns)


@analysis
def splice_chart(
    seen: PlantSnapshot, by: str = "engineer", group: str | None = None, site: str | None = None
) -> pa.Table:
    """Give every splice with a loss, in the order of making, with the control limits of its group.

    Returns
    -------
    DataFrame, one row a splice: group, basis, site, enclosure, place (tray/slot, or port of a pigtail's), cable,
    made_on, loss_db, moving_range_db (against the splice before in the group), centre_db, lower_db, upper_db,
    range_upper_db, outside (its loss or its moving range is outside the limits).

    Raises NotFoundError where there is no such group.
    """
    chart = _charted(seen.values, _splices(seen, by))
    if group is not None:
        there = chart["group"].unique().to_pylist()
        chart = chart.filter(pc.equal(chart["group"], group))
        if not chart.num_rows:
            raise NotFoundError(f"no splice with a loss belongs to {by} {group!r}; there are: {', '.join(there)}")
    return chart


def _splices(seen: PlantSnapshot, by: str) -> pa.Table:
    """Every splice and pigtail splice with its group: the columns of COLUMNS and group, basis, place, cable."""
    if by not in BY:
        raise NotFoundError(f"splice quality is not told by {by!r}; by {', '.join(BY)}")
    joints, pigtails = _plain(seen.table("splices")), _plain(seen.table("terminations"))
    unsaid = pc.and_(pc.equal(pigtails["method"], ""), pigtails["loss_db"].is_valid())
    pigtails = pigtails.filter(pc.or_(pc.equal(pigtails["method"], "spliced pigtail"), unsaid))
    port = pc.binary_join_element_wise(pigtails["port"], pigtails["position"], "/")
    port = pc.if_else(pc.equal(pigtails["position"], ""), pigtails["port"], port)
    slot = pc.binary_join_element_wise(joints["tray"], joints["slot"], "/")
    parts = (
        [*(joints[c] for c in COLUMNS), slot, joints["a_cable"], joints["b_cable"]],
        [*(pigtails[c] for c in COLUMNS), port, pigtails["cable"], pigtails["cable"]],
    )
    return _grouped(pa.concat_tables([pa.table(p, names=[*COLUMNS, "place", "one", "other"]) for p in parts]), by)


def _plain(table: pa.Table) -> pa.Table:
    """Text as plain strings, "" where blank."""
    columns = [
        pc.fill_null(c.cast(pa.string()), "") if pa.types.is_dictionary(c.type) or pa.types.is_string(c.type) else c
        for c in table.columns
    ]
    return pa.table(columns, names=table.column_names)


def _grouped(splices: pa.Table, by: str) -> pa.Table:
    """Each splice with group, basis and cable; by cable one that joins two cables stands in both groups."""
    one, other = splices["one"], splices["other"]
    two = pc.not_equal(one, other)
    told = {
        "basis": _or(splices["loss_basis"], "basis not recorded"),
        "cable": pc.if_else(two, pc.binary_join_element_wise(one, other, " to "), one),
        "row": pa.array(np.arange(splices.num_rows)),
    }
    for name, column in told.items():
        splices = splices.append_column(name, column)
    if by == "cable":
        again = splices.filter(two)
        group = pc.binary_join_element_wise(splices["site"], one, ": ")
        more = again.append_column("group", pc.binary_join_element_wise(again["site"], again["other"], ": "))
        return pa.concat_tables([splices.append_column("group", group), more])
    if by == "month":
        months = splices["made_on"].to_numpy().astype("datetime64[M]")
        group = pc.if_else(splices["made_on"].is_null(), "not dated", pa.array(np.datetime_as_string(months)))
    else:
        group = _or(splices["made_by" if by == "engineer" else "splicer"], "not recorded")
    return splices.append_column("group", group)


def _or(texts: pa.ChunkedArray, words: str) -> pa.ChunkedArray:
    return pc.if_else(pc.equal(texts, ""), words, texts)


def _charted(values: Values, splices: pa.Table) -> pa.Table:
    """Those with a loss, group by group in the order of making, with their chart."""
    splices = splices.filter(splices["loss_db"].is_valid())
    made = splices["made_on"].cast(pa.int32()).fill_null(np.iinfo(np.int32).min).to_numpy()  # not dated: first
    ranks = {n: _rank(splices[n]) for n in ("group", "basis", "site", "enclosure", "place")}
    order = np.lexsort(
        (
            splices["row"].to_numpy(),
            ranks["place"],
            ranks["enclosure"],
            ranks["site"],
            made,
            ranks["basis"],
            ranks["group"],
        )
    )
    splices = splices.take(order)
    loss = splices["loss_db"].to_numpy()
    factors = values.practice("individuals chart factor"), values.practice("moving range chart factor")
    chart = individuals_charts(loss, _parts(splices)[0], *factors)
    limits = {
        "moving_range_db": pa.array(chart.moving_range, from_pandas=True),
        "centre_db": chart.centre,
        "lower_db": chart.lower,
        "upper_db": chart.upper,
        "range_upper_db": chart.range_upper,
        "outside": outside(loss, chart),
    }
    told = {n: limits[n] if n in limits else splices[n] for n in SINGLE.names}
    return pa.table(told, schema=SINGLE)


def _rank(texts: pa.ChunkedArray) -> Ints:
    """Place of each text in the order of texts; equal texts the same."""
    coded = texts.combine_chunks().dictionary_encode()
    place = np.empty(len(coded.dictionary), np.int64)
    place[pc.sort_indices(coded.dictionary).to_numpy()] = np.arange(len(place))
    found: Ints = place[coded.indices.to_numpy()]
    return found


def _parts(chart: pa.Table) -> tuple[Ints, Ints]:
    """Number of each row's group and basis, which stand together, and the first row of each."""
    group, basis = _rank(chart["group"]), _rank(chart["basis"])
    begins = np.ones(len(group), bool)
    begins[1:] = (group[1:] != group[:-1]) | (basis[1:] != basis[:-1])
    return np.cumsum(begins) - 1, np.flatnonzero(begins)


def _point(ordered: Floats, first: Ints, count: Ints, share: float) -> Floats:
    """The value that a share of each group does not exceed, between two neighbours in proportion."""
    place = share * (count - 1)
    below = np.floor(place).astype(np.int64)
    low, high = ordered[first + below], ordered[first + np.minimum(below + 1, count - 1)]
    found: Floats = low + (high - low) * (place - below)
    return found
