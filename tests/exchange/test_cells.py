import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.exchange import cells
from fleet.exchange.cells import Calendar, CellError

LONDON = ZoneInfo("Europe/London")
CALENDAR = Calendar(zone=LONDON, anchors={"hww": dt.date(2027, 6, 12), "k-12": dt.date(2027, 8, 1)})


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2027-05-01", dt.date(2027, 5, 1)),
        ("2027-05-01 00:00", dt.date(2027, 5, 1)),
        ("HWW", dt.date(2027, 6, 12)),
        ("hww-35", dt.date(2027, 5, 8)),
        ("HWW +1", dt.date(2027, 6, 13)),
        ("HWW - 2", dt.date(2027, 6, 10)),
        ("K-12", dt.date(2027, 8, 1)),
        ("K-12-1", dt.date(2027, 7, 31)),
    ],
)
def test_days(text, day):
    assert cells.read_day(text, CALENDAR) == day


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("01/05/2027", "2027-05-01, or a code and days such as HWW-35"),
        ("2027-02-30", "2027-05-01"),
        ("HVW-3", "HWW-3"),
        ("HWW-2 18:00", "2027-05-01"),
        ("HWW+999999999", "HWW-35"),
    ],
)
def test_wrong_days_say_what_is_right(text, right):
    with pytest.raises(CellError) as wrong:
        cells.read_day(text, CALENDAR)
    assert wrong.value.right == right


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2027-05-01 18:00", dt.datetime(2027, 5, 1, 18, tzinfo=LONDON)),
        ("2027-05-01T18:00:05", dt.datetime(2027, 5, 1, 18, 0, 5, tzinfo=LONDON)),
        ("2027-05-01", dt.datetime(2027, 5, 1, 12, tzinfo=LONDON)),
        ("HWW-2 18:00", dt.datetime(2027, 6, 10, 18, tzinfo=LONDON)),
        ("HWW", dt.datetime(2027, 6, 12, 12, tzinfo=LONDON)),
        ("2027-10-31 01:30+00:00", dt.datetime(2027, 10, 31, 1, 30, tzinfo=dt.UTC)),
    ],
)
def test_moments(text, moment):
    assert cells.read_moment(text, CALENDAR) == moment


@pytest.mark.parametrize("text", ["2027-05-01 25:00", "noon", "HWW 7 o'clock"])
def test_wrong_moments(text):
    with pytest.raises(CellError):
        cells.read_moment(text, CALENDAR)


def test_the_hour_that_comes_twice_keeps_its_half():
    first = dt.datetime(2027, 10, 31, 0, 30, tzinfo=dt.UTC)
    second = dt.datetime(2027, 10, 31, 1, 30, tzinfo=dt.UTC)
    assert [cells.write_moment(one, LONDON) for one in (first, second)] == [
        "2027-10-31 01:30",
        "2027-10-31 01:30+00:00",
    ]
    assert [cells.read_moment(cells.write_moment(one, LONDON), CALENDAR) for one in (first, second)] == [
        first,
        second,
    ]


@given(
    st.datetimes(
        min_value=dt.datetime(1971, 1, 1), max_value=dt.datetime(2090, 1, 1), timezones=st.just(dt.UTC)
    )
)
def test_a_moment_comes_back_as_it_went(moment):
    assert cells.read_moment(cells.write_moment(moment, LONDON), CALENDAR) == moment


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1.5", "1.5"),
        ("18 204", "18204"),
        ("18\u00a0204.5", "18204.5"),
        ("-5", "-5"),
        ("1\u202f000\u202f000", "1000000"),
    ],
)
def test_amounts(text, value):
    assert cells.read_amount(text) == Decimal(value)


def test_a_decimal_comma_is_told_with_its_point():
    with pytest.raises(CellError) as wrong:
        cells.read_amount("1,5")
    assert (wrong.value.words, wrong.value.right) == ("'1,5' has a comma", "1.5")


@pytest.mark.parametrize("text", ["NaN", "Infinity", "1e", "ten", "1.2.3"])
def test_no_numbers(text):
    with pytest.raises(CellError):
        cells.read_amount(text)


@pytest.mark.parametrize(
    ("value", "text"), [("2.50", "2.5"), ("100", "100"), ("0.00", "0"), ("1E+3", "1000"), ("-0.0", "0")]
)
def test_amounts_are_written_plainly(value, text):
    assert cells.write_amount(Decimal(value)) == text


@pytest.mark.parametrize(
    ("text", "value"), [("yes", True), ("N", False), ("1", True), ("False", False), ("x", True)]
)
def test_yes_and_no(text, value):
    assert cells.read_yes(text) is value


def test_neither_yes_nor_no():
    with pytest.raises(CellError):
        cells.read_yes("perhaps")


@pytest.mark.parametrize("text", ["24:00", "7.30", "7:5"])
def test_wrong_clocks(text):
    with pytest.raises(CellError):
        cells.read_clock(text)


@pytest.mark.parametrize(("text", "rating"), [("2C", (2, "C")), ("4 f", (4, "F"))])
def test_ratings(text, rating):
    assert cells.read_rating(text) == rating


@pytest.mark.parametrize("text", ["5A", "2G", "C2", ""])
def test_wrong_ratings(text):
    with pytest.raises(CellError):
        cells.read_rating(text)


@pytest.mark.parametrize(
    "text", ["=1+1", "+44 100", "-2+3", "@SUM(A1)", "'quoted", "# note", "=cmd|' /C calc'!A0"]
)
def test_what_looks_like_a_formula_is_made_safe_and_comes_back(text):
    assert cells.safe(text) == "'" + text
    assert cells.unsafe(cells.safe(text)) == text


@pytest.mark.parametrize("text", ["-5", "-5.25", "12", "plain", "'tis"[1:]])
def test_numbers_and_plain_words_stay(text):
    assert cells.safe(text) == text


@given(st.text(max_size=12))
def test_safe_never_begins_like_a_formula_and_always_comes_back(text):
    out = cells.safe(text)
    assert cells.unsafe(out) == text
    assert out[:1] not in {"=", "+", "@", "\t", "\r"}
    assert out[:1] != "-" or cells.NUMBER.fullmatch(out)


@given(
    st.lists(
        st.text(st.characters(exclude_categories=["C"]), min_size=1, max_size=8).map(str.strip).filter(bool)
    )
)
def test_lists_come_back_with_their_semicolons(parts):
    assert cells.split_list(cells.join_list(parts)) == parts


def test_nearest_names():
    assert cells.nearest("pitt", ["pit", "hoist"]) == "pit"
    assert cells.nearest("BRAKES", ["brakes", "steering"]) == "brakes"
    assert cells.nearest("zzz", ["pit", "hoist"]) == ""
