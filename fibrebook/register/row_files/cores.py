"""Cores in full from the cables, and what little of them is stored.

The store holds a row of `cores` only where it says something: a fault, a reservation, a colour that departs from the
cable's code. All other cores follow from their cable, so a cable's count or code can be mended at any time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count, takewhile

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fibrebook.records.kinds.built_in import BUILT_IN_KINDS, KINDS
from fibrebook.records.kinds.declared import Kind
from fibrebook.reference.colours import many_cables, read_colour
from fibrebook.register.row_files.read import coded_schema
from fibrebook.register.row_files.site_rows import plain
from fibrebook.words.matching import shared_ids, value_codes

OUR_CORES = BUILT_IN_KINDS["cores"]  # without the columns that plugins add
GENERATED = tuple(c.name for c in OUR_CORES.columns if c.generated)
DEFAULT_CODE = "TIA-598"  # where a cable's colour_code is blank
OwnCodes = Mapping[str, Sequence[str]]


def full_cores(
    cables: pa.Table, said: pa.Table, own_codes: OwnCodes | None = None, kind: Kind | None = None
) -> pa.Table:
    """Return every core of every cable, with what is said of it laid over what its cable gives.

    Parameters
    ----------
    cables, said : stored rows of `cables` and `cores`; said rows whose cable or number there is not are left out
    own_codes : the firm's own colour codes, code -> colours in order
    kind : the declaration of `cores`; None = as it is known

    Returns
    -------
    pyarrow Table in the columns of `cores`, text dictionary-encoded, cable after cable; a colour that cannot be told
    (unknown code) is null
    """
    kind = kind or KINDS.at_hand("cores")
    schema = coded_schema(kind)
    if not cables.num_rows:
        return schema.empty_table()
    derived = _derived(cables, own_codes)
    source, core_rows = _said_rows(cables, said)
    take = np.full(derived.num_rows, -1, np.int64)
    take[core_rows] = source
    index = pa.array(take, mask=take < 0)
    row = derived["cable_row"].combine_chunks()
    columns = []
    for column in kind.columns:
        field = schema.field(column.name)
        if column.name in ("site", "cable"):
            array = cables[column.name].take(row)
        elif column.name == "core":
            array = derived["core"]
        elif column.name in GENERATED:
            array = _overruled(derived[column.name], said[column.name], index)
        else:
            there = said.num_rows and column.name in said.column_names
            array = said[column.name].take(index) if there else pa.nulls(len(take), field.type)
        columns.append(_coded(array, field.type))
    return pa.table(columns, schema=schema)


def _derived(cables: pa.Table, own_codes: OwnCodes | None) -> pa.Table:
    def ints(name: str) -> np.ndarray:
        found: np.ndarray = cables[name].fill_null(0).to_numpy().astype(np.int64)
        return found

    code = _text(cables["colour_code"]).fill_null(DEFAULT_CODE)
    extra = {c: list(v) for c, v in (own_codes or {}).items()}
    made = many_cables(
        ints("core_count"),
        ints("cores_per_tube"),
        _text(cables["tube_sizes"]),
        code,
        extra or None,
        missing="blank",
    )
    for name in (
        "tube_tracer",
        "core_tracer",
    ):  # "" says that there is no tracer; a blank cell says the same here
        made = made.set_column(made.schema.get_field_index(name), name, _blank_to_null(made[name]))
    return made


def _text(column: pa.ChunkedArray) -> pa.ChunkedArray:
    return column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column


def _blank_to_null(column: pa.ChunkedArray) -> pa.Array:
    array = column.combine_chunks()
    blank = pc.index(array.dictionary, "").as_py()
    indices = pc.if_else(pc.equal(array.indices, blank), pa.scalar(None, array.indices.type), array.indices)
    return pa.DictionaryArray.from_arrays(indices, array.dictionary)


def _said_rows(cables: pa.Table, said: pa.Table) -> tuple[np.ndarray, np.ndarray]:
    """Return rows of `said` that name an existing core, and the place of each in the full list."""
    if not said.num_rows:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    own, asked = shared_ids([[cables["site"], cables["cable"]], [said["site"], said["cable"]]])
    cable_of = np.full(int(max(own.max(), asked.max())) + 1, -1, np.int64)
    cable_of[own] = np.arange(len(own))
    cable = cable_of[asked]
    counts = cables["core_count"].fill_null(0).to_numpy().astype(np.int64)
    core = said["core"].to_numpy().astype(np.int64)
    good = np.flatnonzero((cable >= 0) & (core >= 1) & (core <= counts[cable]))
    start = np.cumsum(counts) - counts
    return good, start[cable[good]] + core[good] - 1


def _overruled(derived: pa.ChunkedArray, said: pa.ChunkedArray, index: pa.Array) -> pa.ChunkedArray:
    if said.null_count == len(said):
        return derived
    taken = _text(said).take(index)
    return pc.coalesce(taken, _text(derived).cast(taken.type))


def _coded(array: pa.Array | pa.ChunkedArray, wanted: pa.DataType) -> pa.Array | pa.ChunkedArray:
    if array.type == wanted:
        return array
    if pa.types.is_dictionary(wanted) and not pa.types.is_dictionary(array.type):
        return array.dictionary_encode().cast(wanted)
    return array.cast(wanted)


def unsaid(said: pa.Table, cables: pa.Table, own_codes: OwnCodes | None = None) -> pa.Table:
    """Blank each generated value that the cable gives anyway.

    Parameters
    ----------
    said : rows of `cores` in plain text; cables : the cables they belong to
    """
    if not said.num_rows or all(said[n].null_count == said.num_rows for n in GENERATED):
        return said
    full = plain(full_cores(cables, said.slice(0, 0), own_codes, OUR_CORES), OUR_CORES)
    mine, theirs = shared_ids([[t[k] for k in OUR_CORES.key] for t in (said, full)])
    at = np.full(int(max(mine.max(initial=0), theirs.max(initial=0))) + 1, -1, np.int64)
    at[theirs] = np.arange(len(theirs))
    place = at[mine]
    for name in GENERATED:
        own = said[name].combine_chunks()
        given = full[name].take(pa.array(place, mask=place < 0))
        a, b = value_codes([_one_word(own), _one_word(given)] if "colour" in name else [own, given])
        same = (a == b) & (a >= 0)
        if same.any():
            own = pc.if_else(pa.array(same), pa.scalar(None, own.type), own)
            said = said.set_column(said.schema.get_field_index(name), said.schema.field(name), own)
    return said


def _one_word(column: pa.Array | pa.ChunkedArray) -> pa.Array:
    """Colours in the one spelling of each: grey and slate are the same colour."""
    coded = pa.chunked_array([column]) if isinstance(column, pa.Array) else column
    flat = coded.combine_chunks().dictionary_encode()
    words = [read_colour(w) or w for w in flat.dictionary.to_pylist()]
    return pa.array(words, pa.string()).take(flat.indices)


def saying(said: pa.Table) -> pa.Table:
    """Return the rows that say anything at all."""
    if not said.num_rows:
        return said
    says = np.zeros(said.num_rows, bool)
    for name in said.column_names:
        if name not in OUR_CORES.key:
            says |= said[name].is_valid().to_numpy()
    return said if says.all() else said.filter(pa.array(says))


def with_usual_code(cables: pa.Table, before: pa.Table, usual: str | None) -> pa.Table:
    """Write the firm's usual colour code on cables that are new and say none; an older cable keeps what it says.

    Parameters
    ----------
    cables, before : rows of `cables` in plain text, as they are to be and as they were; usual : None = there is none
    """
    blank = cables["colour_code"].is_null().to_numpy()
    if not usual or not blank.any():
        return cables
    mine, theirs = shared_ids([[t[k] for k in KINDS["cables"].key] for t in (cables, before)])
    filled = pc.if_else(pa.array(blank & ~np.isin(mine, theirs)), pa.scalar(usual), cables["colour_code"])
    at = cables.schema.get_field_index("colour_code")
    return cables.set_column(at, cables.schema.field(at), filled.cast(pa.string()))


def usual_code_in(choices: pa.Table) -> str | None:
    """Return the colour code that the firm chose for cables that say none, None where it chose none."""
    said = {row["choice"]: row["value"] for row in choices.to_pylist()}
    return (said.get("colour_code") or "").strip() or None


def codes_in(colour_codes: pa.Table) -> dict[str, list[str]]:
    """Return the firm's own codes as code -> colours in order of position, as far as no position is left out."""
    found: dict[str, dict[int, str]] = {}
    for row in colour_codes.to_pylist():
        found.setdefault(row["colour_code"], {})[row["position"]] = row["colour"]
    return {code: [places[p] for p in takewhile(places.__contains__, count(1))] for code, places in found.items()}
