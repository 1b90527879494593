"""The colours of every tube and core of a cable, or of a whole register's cables at once.

Rule (TIA-598, large loose-tube cables; also DIN VDE 0888): the code's colours number the tubes first, then the cores
in each tube; core number = cores in the tubes before + position in its tube.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fibrebook.errors import ValueSourceError
from fibrebook.reference.colour_orders import Extra, line
from fibrebook.words.labels import whole_number

if TYPE_CHECKING:
    import pyarrow as pa

MOST_CORES = 1728  # 144 tubes of 12, the largest that is made in loose tube (common practice, no source)
TEXT_COLUMNS = ("tube_colour", "tube_tracer", "core_colour", "core_tracer")
Missing = Literal["raise", "blank"]


def cable_cores(
    core_count: int,
    cores_per_tube: int | None = None,
    tube_sizes: str = "",
    code: str = "TIA-598",
    extra: Extra = None,
) -> pa.Table:
    """Return one row per core of one cable, in order.

    Parameters
    ----------
    core_count : number of cores, 1 to 1728.
    cores_per_tube : cores in a full tube (the last may be short); None or 0 = one tube.
    tube_sizes : "12, 12, 6" where tubes hold different numbers; must add up to core_count; goes before cores_per_tube.
    code : colour code or an alias of it; extra : the firm's own lists.

    Returns
    -------
    pyarrow Table: core, tube (int32 from 1), tube_colour (null where there is just one tube), tube_tracer,
    core_colour, core_tracer (string; "" = no tracer).

    Raises
    ------
    ValueSourceError
        unknown code, position not established, sizes that do not add up, count out of range.
    """
    import pyarrow as pa

    found = many_cables(
        np.array([core_count]), np.array([cores_per_tube or 0]), [tube_sizes or ""], [code], extra
    ).drop_columns(["cable_row"])
    return found.cast(pa.schema([f.with_type(pa.string()) if f.name in TEXT_COLUMNS else f for f in found.schema]))


def many_cables(
    core_count: np.ndarray,
    cores_per_tube: np.ndarray,
    tube_sizes: Sequence[str | None] | pa.Array,
    code: Sequence[str | None] | pa.Array,
    extra: Extra = None,
    *,
    missing: Missing = "raise",
) -> pa.Table:
    """Return one row per core of many cables, cable after cable.

    Parameters as in `cable_cores`, each with shape (cables,); cores_per_tube 0 = one tube. A blank code leaves the
    colours null. missing="blank" leaves null what cannot be told (unknown code, position not established, tube sizes
    that do not add up) where "raise" stops with an error that names the cable.

    Returns
    -------
    pyarrow Table: cable_row (int32, position of the cable in the arguments), core, tube (int32), and the text columns
    of `cable_cores` as dictionary arrays with int32 indices.
    """
    import pyarrow as pa

    counts = _whole(core_count, "core_count", least=1)
    tubes_of = _whole(cores_per_tube, "cores_per_tube", least=0)
    size_index, size_words = _factored(tube_sizes)
    code_index, code_words = _factored(code)
    if not len(counts) == len(tubes_of) == len(size_index) == len(code_index):
        raise ValueSourceError("many_cables needs one core count, tube size and colour code for every cable.")
    key = ((counts * (MOST_CORES + 1) + np.minimum(tubes_of, MOST_CORES)) * len(size_words) + size_index) * len(
        code_words
    ) + code_index
    _shapes, first, shape_of = np.unique(key, return_index=True, return_inverse=True)
    by_row = np.argsort(first)  # so that an error names the first cable that has it
    first, shape_of = first[by_row], np.argsort(by_row)[shape_of]
    words = _Words()
    made = []
    for c in first:
        sizes, one_code = size_words[size_index[c]], code_words[code_index[c]]
        where = f"cable {c + 1} of {len(counts)}"
        made.append(_shape(int(counts[c]), int(tubes_of[c]), sizes, one_code, extra, words, where, missing))
    starts = np.concatenate(([0], np.cumsum([m.shape[1] for m in made], dtype=np.int64)))
    each = np.concatenate(made, axis=1) if made else np.empty((5, 0), np.int32)
    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    cable_row = np.repeat(np.arange(len(counts), dtype=np.int32), counts)
    core = np.arange(total, dtype=np.int64) - (ends - counts)[cable_row]
    rows = each[:, starts[shape_of][cable_row] + core]
    dictionary = pa.array(list(words.index), pa.string())
    columns: dict[str, Any] = {
        "cable_row": pa.array(cable_row),
        "core": pa.array((core + 1).astype(np.int32)),
        "tube": pa.array(rows[0], mask=rows[0] < 0),
    }
    for name, indices in zip(TEXT_COLUMNS, rows[1:], strict=True):
        columns[name] = pa.DictionaryArray.from_arrays(pa.array(indices, mask=indices < 0), dictionary)
    return pa.table(columns)


def tube_sizes_of(core_count: int, cores_per_tube: int = 0, tube_sizes: str = "") -> list[int]:
    """Return how many cores each tube holds; blank sizes and 0 per tube = one tube; the last tube may be short."""
    if tube_sizes.strip():
        parts = [p for p in re.split(r"[\s,;+]+", tube_sizes.strip()) if p]
        sizes = [whole_number(p) or 0 for p in parts]
        if not all(sizes):
            raise ValueSourceError(f"Tube sizes {tube_sizes!r} are not numbers. Write them like 12, 12, 6.")
        if sum(sizes) != core_count:
            raise ValueSourceError(
                f"Tube sizes {tube_sizes!r} add up to {sum(sizes)}, but the cable has {core_count} cores. "
                f"Correct the sizes or the core count."
            )
        return sizes
    if not cores_per_tube or cores_per_tube >= core_count:
        return [core_count]
    full, rest = divmod(core_count, cores_per_tube)
    return [cores_per_tube] * full + [rest] * (rest > 0)


class _Words:
    """The dictionary that all text columns share, word -> index; index -1 = null."""

    def __init__(self) -> None:
        self.index: dict[str, int] = {}

    def of(self, words: Sequence[str], length: int) -> np.ndarray:
        found = np.full(length, -1, np.int32)
        found[: len(words)] = [self.index.setdefault(w, len(self.index)) for w in words]
        return found


def _shape(
    count: int, per_tube: int, sizes: str, code: str, extra: Extra, words: _Words, where: str, missing: Missing
) -> np.ndarray:
    """Return one cable's tube numbers and text indices, shape (5, count), -1 = null."""
    made = np.full((5, count), -1, np.int32)
    try:
        tubes = np.array(tube_sizes_of(count, per_tube, sizes))
        tube = np.repeat(np.arange(len(tubes)), tubes)
        made[0] = tube + 1
        if not code:
            return made
        position = np.arange(count) - np.repeat(np.cumsum(tubes) - tubes, tubes)
        partly = missing == "blank"
        many = max(len(tubes) if len(tubes) > 1 else 1, int(tubes.max()))
        core_words = [words.of(w, many) for w in line(code, int(tubes.max()), extra, partly=partly)]
        made[3:] = [w[position] for w in core_words]
        if len(tubes) > 1:
            made[1:3] = [words.of(w, many)[tube] for w in line(code, len(tubes), extra, partly=partly)]
        else:
            made[2] = words.of([""], 1)[0]
    except ValueSourceError as error:
        if missing == "raise":
            raise ValueSourceError(f"{error} ({where}: {count} cores)") from error
    return made


def _whole(values: np.ndarray, name: str, least: int) -> np.ndarray:
    given = np.atleast_1d(np.asarray(values))
    if given.size == 0:
        return np.empty(0, np.int64)
    if not np.issubdtype(given.dtype, np.number) or np.any(~np.isfinite(given)) or np.any(given != np.floor(given)):
        raise ValueSourceError(f"{name} must be whole numbers.")
    wrong = np.flatnonzero((given < least) | (given > MOST_CORES))
    if wrong.size:
        row = int(wrong[0])
        raise ValueSourceError(f"{name} of cable {row + 1} is {given[row]}; it must be {least} to {MOST_CORES}.")
    return given.astype(np.int64)


def _factored(texts: Sequence[str | None] | pa.Array) -> tuple[np.ndarray, list[str]]:
    """Return (index of each text in the list of different texts, that list); null = ""."""
    import pyarrow as pa

    array = texts if isinstance(texts, pa.Array | pa.ChunkedArray) else pa.array(list(texts), pa.string())
    if isinstance(array, pa.ChunkedArray):
        array = array.combine_chunks()
    if pa.types.is_dictionary(array.type):
        array = array.cast(pa.string())
    encoded = array.fill_null("").dictionary_encode()
    return encoded.indices.to_numpy(zero_copy_only=False).astype(np.int64), encoded.dictionary.to_pylist() or [""]
