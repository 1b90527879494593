"""The one bridge from a question about a snapshot to a question about a register."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, cast

import pyarrow as pa

from fibrebook.records import to_frame
from fibrebook.snapshot.snapshot import PlantSnapshot

if TYPE_CHECKING:
    import pandas as pd

    from fibrebook.register import Register

P = ParamSpec("P")


def analysis(
    run: Callable[Concatenate[PlantSnapshot, P], pa.Table],
) -> Callable[Concatenate[Register, P], pd.DataFrame]:
    """Turn *snapshot in, Arrow table out* into *register in, DataFrame out*.

    The function's `site`, by its name or as the argument after the snapshot, is the site whose snapshot it gets; one
    without `site` gets the whole register's. `answer.of` is the
    function as written, for who has a snapshot.
    """
    takes = inspect.signature(run)

    @wraps(run)
    def answer(reg: Register, *given: P.args, **named: P.kwargs) -> pd.DataFrame:
        asked = takes.bind(None, *given, **named)
        seen = PlantSnapshot.of(reg, asked.arguments.get("site"))
        return to_frame(run(seen, *given, **named))

    answer.of = run  # type: ignore[attr-defined]
    first = inspect.Parameter("reg", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation="Register")
    answer.__signature__ = takes.replace(  # type: ignore[attr-defined]
        parameters=[first, *list(takes.parameters.values())[1:]], return_annotation="pd.DataFrame"
    )
    return cast("Callable[Concatenate[Register, P], pd.DataFrame]", answer)
