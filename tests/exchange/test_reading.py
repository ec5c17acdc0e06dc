import datetime as dt
import io
import zipfile

import pytest
import xlsxwriter

from fleet.exchange.cells import NOTHING
from fleet.exchange.reading import FileError, plain, read_path, read_sheets


def one(content: bytes, name: str = "people.csv"):
    sheets, problems = read_sheets({name: content})
    assert problems == []
    return sheets[0]


@pytest.mark.parametrize(
    "content",
    [
        b"code,name\nP1,Ansel\n",
        b"code;name\r\nP1;Ansel\r\n",
        b"code\tname\nP1\tAnsel\n",
        b"\xef\xbb\xbfcode,name\nP1,Ansel",
        b' Code , NAME \n P1 ,"Ansel"\n',
    ],
)
def test_every_shape_of_csv_reads_alike(content):
    sheet = one(content)
    assert (sheet.name, sheet.header, sheet.rows) == ("people", ["code", "name"], [(2, ["P1", "Ansel"])])


def test_rows_are_numbered_as_a_spreadsheet_numbers_them():
    sheet = one(b'# a list of ours\ncode,name\n\nP1,"two\nlines"\n# P2,skipped\nP3,Ivo\n')
    assert sheet.rows == [(4, ["P1", "two\nlines"]), (6, ["P3", "Ivo"])]


def test_a_hyphen_empties_and_a_quoted_one_is_a_hyphen():
    assert one(b"code,name\nP1,-\nP2,'-\nP3,'=1\n").rows == [
        (2, ["P1", NOTHING]),
        (3, ["P2", "-"]),
        (4, ["P3", "=1"]),
    ]


def test_commas_in_a_quoted_header_do_not_choose_the_delimiter():
    assert one(b'"code";"name, whole, as spoken"\nP1;Ansel\n').header == ["code", "name,_whole,_as_spoken"]


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("people.csv", "code,name\nP1,Zoë\n".encode("cp1252"), "not UTF-8: line 2"),
        ("people.csv", b"code,name\nP1,\x00\n", "null characters"),
        ("people.csv", b'code,name\nP1,"open\n', "quotation mark"),
        ("people.csv", b"", "no header row"),
        ("people.txt", b"code\n", "Only .csv and .xlsx"),
        ("people.xlsx", b"code,name\n", "cannot be opened"),
        ("people.csv", b"code,name\nP1," + b"a" * 40_000, "32767 characters"),
    ],
)
def test_files_that_cannot_be_read_say_what_to_do(name, content, words):
    sheets, problems = read_sheets({name: content})
    assert [problem.table for problem in problems] == [name]
    assert words in problems[0].words
    assert sheets == []


def workbook(**sheets) -> bytes:
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"default_date_format": "yyyy-mm-dd"}) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, cells in enumerate(rows):
                sheet.write_row(number, 0, cells)
    return content.getvalue()


def test_a_workbook_has_a_sheet_for_each_table():
    content = workbook(
        people=[["code", "name"], [], ["P1", "Ansel"]],
        meters=[["vehicle", "read_at", "shown", "changed"], ["V1", dt.datetime(2027, 5, 1), 18204.5, True]],
        notes=[],
    )
    sheets, problems = read_sheets({"book.xlsx": content})
    assert problems == []
    assert {sheet.name: sheet.rows for sheet in sheets} == {
        "people": [(3, ["P1", "Ansel"])],
        "meters": [(2, ["V1", "2027-05-01", "18204.5", "yes"])],
    }


def test_a_workbook_that_unpacks_to_too_much_is_not_opened():
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * (201 * 1024 * 1024))
    _, problems = read_sheets({"bomb.xlsx": content.getvalue()})
    assert "unpacks to more" in problems[0].words


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (18204.0, "18204"),
        (0.1, "0.1"),
        (True, "yes"),
        (False, "no"),
        (dt.date(2027, 5, 1), "2027-05-01"),
        (dt.datetime(2027, 5, 1, 18, 30), "2027-05-01 18:30:00"),
        (dt.time(9, 5), "09:05:00"),
        (dt.timedelta(hours=14, minutes=15), "14:15"),
        ("text", "text"),
        ("", ""),
    ],
)
def test_workbook_cells_become_the_words_of_a_csv(cell, text):
    assert plain(cell) == text


def test_folders_and_single_files(tmp_path):
    (tmp_path / "people.csv").write_bytes(b"code\n")
    (tmp_path / "README.txt").write_text("ours")
    (tmp_path / "~$people.xlsx").write_bytes(b"lock")
    assert list(read_path(tmp_path)) == ["people.csv"]
    assert list(read_path(tmp_path / "people.csv")) == ["people.csv"]
    with pytest.raises(FileError, match="no folder or file"):
        read_path(tmp_path / "gone")
    (tmp_path / "bare").mkdir()
    with pytest.raises(FileError, match=r"no .csv or .xlsx"):
        read_path(tmp_path / "bare")
