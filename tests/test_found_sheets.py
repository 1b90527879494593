"""The sheet as it was found: what a person sees who opens the file, of every kind of file, and nothing beyond bounds."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path

import pytest
import xlwt
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from small_ods import SPACES

from fibrebook.errors import InputError, NotFoundError
from fibrebook.readers.found.found_sheet import FoundSheet
from fibrebook.readers.found.open_found import find_sheets, sheets_of_text
from fibrebook.readers.found.pasted import read_pasted


def xlsx(path: Path) -> Path:
    """A workbook with one of everything that is to be seen."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet["A1"], sheet["A2"], sheet["B2"], sheet["A4"] = "Cable C1", 7, "spare", "a\nb"
    sheet["A1"].font = Font(bold=True)
    sheet["A2"].number_format = "000"
    sheet["B2"].font, sheet["B2"].fill = Font(strike=True), PatternFill("solid", fgColor="FFFF00")
    sheet["C2"].fill = PatternFill("solid", fgColor="00FF00")
    sheet["B2"].comment = Comment("ask first", "x")
    sheet["A3"] = dt.datetime(2019, 4, 1)
    sheet.merge_cells("A5:C5")
    sheet["A5"] = "over three"
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["C"].hidden = True
    book.save(path)
    return path


def xls(path: Path) -> Path:
    """The same as an old .xls."""
    book = xlwt.Workbook()
    sheet = book.add_sheet("Sheet")
    sheet.write(0, 0, "Cable C1", xlwt.easyxf("font: bold on"))
    sheet.write(1, 0, 7, xlwt.easyxf(num_format_str="000"))
    sheet.write(1, 1, "spare", xlwt.easyxf("font: struck_out on; pattern: pattern solid, fore_colour yellow"))
    sheet.write(2, 0, dt.datetime(2019, 4, 1), xlwt.easyxf(num_format_str="D-MMM"))
    sheet.write(3, 0, "a\nb")
    sheet.write_merge(4, 4, 0, 2, "over three")
    sheet.row(2).hidden = True
    sheet.col(2).hidden = True
    book.save(str(path))
    return path


def ods(path: Path) -> Path:
    """The same as an .ods."""
    spaces = SPACES + ' xmlns:style="s" xmlns:fo="f" xmlns:dc="d"'
    styles = (
        '<style:style style:name="bold"><style:text-properties fo:font-weight="bold"/></style:style>'
        '<style:style style:name="gone"><style:table-cell-properties fo:background-color="#ffff00"/>'
        '<style:text-properties style:text-line-through-style="solid"/></style:style>'
    )
    text = '<table:table-cell {} office:value-type="string"><text:p>{}</text:p>{}</table:table-cell>'
    note = "<office:annotation><dc:date>2020-01-01T00:00:00</dc:date><text:p>ask first</text:p></office:annotation>"
    rows = [
        text.format('table:style-name="bold"', "Cable C1", ""),
        '<table:table-cell office:value-type="float" office:value="7"/>'
        + text.format('table:style-name="gone"', "spare", note),
        '<table:table-cell office:value-type="date" office:date-value="2019-04-01"/>',
        text.format("", "a</text:p><text:p>b", ""),
        text.format('table:number-columns-spanned="3" table:number-rows-spanned="1"', "over three", ""),
    ]
    body = "".join(
        f"<table:table-row{' table:visibility=' + chr(34) + 'collapse' + chr(34) if i == 2 else ''}>{r}</table:table-row>"
        for i, r in enumerate(rows)
    )
    columns = '<table:table-column table:number-columns-repeated="2"/><table:table-column table:visibility="collapse"/>'
    content = (
        f"<office:document-content {spaces}><office:automatic-styles>{styles}</office:automatic-styles><office:body>"
        f'<office:spreadsheet><table:table table:name="Sheet">{columns}{body}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", content)
        book.writestr("META-INF/manifest.xml", '<m:manifest xmlns:m="m"/>')
    return path


@pytest.mark.parametrize("kind", [xlsx, xls, ods])
def test_what_is_seen_is_found(kind, tmp_path: Path) -> None:
    """Values with their format, fill, bold and struck-out type, several lines in a cell, hidden rows and columns."""
    sheet: FoundSheet = find_sheets(kind(tmp_path / f"list.{kind.__name__}")).sheets[0]
    assert sheet.text(1, 1) == "Cable C1" and sheet.look(1, 1).bold and not sheet.look(1, 1).struck
    assert sheet.text(2, 1) == ("7" if kind is ods else "007")
    assert sheet.text(2, 2) == "spare" and sheet.look(2, 2).struck and sheet.look(2, 2).fill == "#ffff00"
    assert sheet.text(3, 1) == "2019-04-01" and sheet.hidden_rows == {3} and sheet.hidden_columns == {3}
    assert sheet.text(4, 1) == "a\nb"
    assert sheet.notes == ({} if kind is xls else {(2, 2): "ask first"})
    assert sheet.merged == [((5, 1), (5, 3))]


def test_a_blank_cell_keeps_its_fill(tmp_path: Path) -> None:
    """A fill may be all that a cell says."""
    sheet = find_sheets(xlsx(tmp_path / "list.xlsx")).sheets[0]
    assert sheet.text(2, 3) == "" and sheet.look(2, 3).fill == "#00ff00"


@pytest.mark.parametrize(
    ("text", "rows", "how"),
    [
        ("a;b;c\n1;2,5;x\n2;3,5;y\n", [["a", "b", "c"], ["1", "2,5", "x"], ["2", "3,5", "y"]], "semicolons"),
        ("Core\tPort\n1\tP1/1, left\n", [["Core", "Port"], ["1", "P1/1, left"]], "tabs"),
        ("| Core | Port |\n|---|---|\n| 1 | `P1` |\n", [["Core", "Port"], [], ["1", "P1"]], "upright lines"),
        ("+----+----+\n| a  | b  |\n+----+----+\n| 1  |    |\n", [[], ["a", "b"], [], ["1", ""]], "upright lines"),
        ("Core  Colour   Port\n1     blue     P 1/1\n12             P 1/2\n",
         [["Core", "Colour", "Port"], ["1", "blue", "P 1/1"], ["12", "", "P 1/2"]], "columns of spaces"),
        ("<p>Cable C1</p><table><tr><th rowspan=2>a</th><td>b<br>c</td></tr><tr><td>d</td></tr></table>",
         [["Cable C1"], ["a", "b\nc"], ["", "d"], []], "a table of a web page"),
        ('a,b\n"1,5","two\nlines"\n', [["a", "b"], ["1,5", "two\nlines"]], "commas"),
    ],
)  # fmt: skip
def test_a_pasted_table_of_any_separator(text: str, rows: list[list[str]], how: str) -> None:
    """What parts the cells is found, and said."""
    found, said = read_pasted("pasted", text)
    assert found == rows and how in said


@pytest.mark.parametrize(
    ("encoding", "called"), [("utf-8", "UTF-8"), ("cp1252", "code page 1252"), ("utf-16", "UTF-16")]
)
def test_letters_are_read_by_the_encoding_that_fits_and_it_is_said(encoding: str, called: str, tmp_path: Path) -> None:
    """UTF-8 where it is, else the code page 1252; the person sees which."""
    path = tmp_path / "list.csv"
    path.write_bytes("Ader;Farbe\n1;grün\n".encode(encoding))
    book = find_sheets(path)
    assert book.sheets[0].text(2, 2) == "grün" and called in book.says[0]


def test_a_file_is_told_by_what_is_in_it(tmp_path: Path) -> None:
    """A web page's table that a program called .xls is read; a workbook under a wrong ending is told."""
    page = tmp_path / "list.xls"
    page.write_text("<table><tr><td>Core</td><td>1</td></tr></table>")
    assert find_sheets(page).sheets[0].rows[0] == ["Core", "1"]
    moved = xlsx(tmp_path / "a.xlsx").rename(tmp_path / "a.csv")
    with pytest.raises(InputError, match="rename it"):
        find_sheets(moved)


@pytest.mark.parametrize(
    "content", [b"", b"\0\0\0", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, b"PK\x03\x04rubbish"]
)
def test_what_is_no_list_is_told_in_words(content: bytes, tmp_path: Path) -> None:
    """Empty, binary, damaged: an InputError that says what to do."""
    for suffix in (".xls", ".xlsx", ".csv"):
        path = tmp_path / f"bad{suffix}"
        path.write_bytes(content)
        with pytest.raises(InputError):
            find_sheets(path)
    with pytest.raises(NotFoundError):
        find_sheets(tmp_path / "none.csv")


def test_a_pasted_text_is_known_again_by_its_digest() -> None:
    """Equal texts, equal digests."""
    assert sheets_of_text("a\tb").digest == sheets_of_text("a\tb").digest != sheets_of_text("a\tc").digest


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(1, 5), st.integers(0, 3), st.booleans()), max_size=20))
@settings(max_examples=60, deadline=None)
def test_looks_are_the_same_at_once_and_cell_by_cell(marks: list[tuple[int, int, int, bool]]) -> None:
    """A sheet whose cells tell where they stand is searched at once: what is seen is what a parser sees, cell by cell."""
    import io

    from fibrebook.readers.found import xlsx_looks as looks

    styles = [looks.Look(), looks.Look("#ff0000"), looks.Look(bold=True), looks.Look()]
    rows: dict[int, dict[int, int]] = {}
    for row, column, style, _ in marks:
        rows.setdefault(row, {})[column] = style
    hidden = {row for row, _, _, hide in marks if hide}
    body = "".join(
        f'<row r="{r}" spans="1:5"{" hidden=" + chr(34) + "1" + chr(34) if r in hidden else ""}>'
        + "".join(f'<c r="{"ABCDE"[c - 1]}{r}" s="{s}"><v>1</v></c>' for c, s in sorted(cells.items()))
        + "</row>"
        for r, cells in sorted(rows.items())
    )
    columns = '<cols><col min="2" max="3" width="9" hidden="1"/><col min="5" max="5" width="9"/></cols>'
    data = f"<worksheet>{columns}<sheetData>{body}</sheetData></worksheet>".encode()
    telling = {str(i): look for i, look in enumerate(styles) if look != looks.PLAIN}
    assert not looks._UNUSUAL.search(data)
    assert looks._at_once(data, telling) == looks._walk(io.BytesIO(b""), data, telling)


@pytest.mark.parametrize(
    "cell",
    ["<c s='1' r='A1'/>", '<x:c r="A1" s="1"/>', '<c s="1"/>', '<c r = "A1" s="1"/>', '<!-- <c r="B1" s="1"/> -->'],
)
def test_unusual_sheets_are_looked_at_cell_by_cell(cell: str) -> None:
    """What a search may read wrongly goes to the parser."""
    from fibrebook.readers.found import xlsx_looks as looks

    assert looks._UNUSUAL.search(f'<worksheet><sheetData><row r="1">{cell}</row></sheetData></worksheet>'.encode())
