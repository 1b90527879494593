"""What of a list did not come in, as a workbook: each cell where it stood, and the reason beside it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fibrebook.errors import Problem, place_in_words
from fibrebook.readers.lists.reading import Reading

HEADINGS = ("sheet", "row", "column", "text", "question", "answers to choose from")


def write_left_over(reading: Reading, refused_rows: Sequence[Problem]) -> Path:
    """Write every cell that waits, with its question, beside the list; a file that is there is never written over.

    Raises
    ------
    InputError : nothing can be written there
    """
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    sheet = book.create_sheet("questions")

    def line(*values: object) -> None:
        cells = []
        for value in values:
            cell = WriteOnlyCell(sheet, value)
            if isinstance(value, str):
                cell.data_type = "s"  # a text that begins like a formula is a text
            cells.append(cell)
        sheet.append(cells)

    line(*HEADINGS)
    asked = {q.key: q for q in reading.asked}
    waiting = reading.cells
    for row in waiting[waiting["fate"] == "question"].to_dict("records"):
        question = asked.get(str(row["why"]))
        what, ways = (question.what, " / ".join(question.proposals)) if question else (str(row["why"]), "")
        line(str(row["sheet"]), int(row["row"]), str(row["column"]), _safe(str(row["text"])), _safe(what), _safe(ways))
    for question in asked.values():
        if not question.waits:
            line(question.sheet, "", "", _safe(question.text), _safe(question.what), " / ".join(question.proposals))
    for problem in refused_rows:
        line("", "", "", _safe(problem.where), _safe(problem.what), _safe(problem.remedy))
    path = _free(Path(reading.book.folder or "."), Path(reading.book.name).stem)
    with place_in_words(f"what is still asked cannot be written beside {reading.book.name}"):
        book.save(path)
    return path


def _free(folder: Path, stem: str) -> Path:
    path = folder / f"{stem} questions.xlsx"
    number = 2
    while path.exists():
        path = folder / f"{stem} questions {number}.xlsx"
        number += 1
    return path


def _safe(text: str) -> str:
    """Put a sign for characters that no workbook may hold."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    found: str = ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)[:32_000]
    return found
