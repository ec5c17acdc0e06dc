"""The risk matrix cell by cell, and the ladder of signers and terms."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readiness.engine.risk import LADDER, Level, Rung, level, may_carry, term_end

# MIL-STD-882E, 11 May 2012, Change 1 2023, Table III: all 24 cells, typed from the table.
TABLE_III = {
    "A": ["High", "High", "Serious", "Medium"],
    "B": ["High", "High", "Serious", "Medium"],
    "C": ["High", "Serious", "Medium", "Low"],
    "D": ["Serious", "Medium", "Medium", "Low"],
    "E": ["Medium", "Medium", "Medium", "Low"],
    "F": ["Eliminated", "Eliminated", "Eliminated", "Eliminated"],
}
CELLS = [(s, p, row[s - 1]) for p, row in TABLE_III.items() for s in (1, 2, 3, 4)]


@pytest.mark.parametrize(("severity", "probability", "expected"), CELLS)
def test_every_cell(severity, probability, expected):
    assert level(severity, probability) == expected
    assert level(str(severity), probability) is Level(expected)


@pytest.mark.parametrize("severity", [0, 5, -1, "", "A", "1.0", 1.0, None, True])
def test_a_severity_off_the_table_is_refused(severity):
    with pytest.raises(ValueError, match="Severity is 1, 2, 3 or 4"):
        level(severity, "A")


@pytest.mark.parametrize("probability", ["", "G", "a", "AB", None, 1])
def test_a_probability_off_the_table_is_refused(probability):
    with pytest.raises(ValueError, match="letters A to F"):
        level(1, probability)


def test_the_levels_rank_worst_highest():
    assert [one.rank for one in Level] == [4, 3, 2, 1, 0]


HIGH, SERIOUS, MEDIUM, LOW, GONE = Level


@pytest.mark.parametrize(
    ("without", "limited", "signed", "allowed", "code", "missing"),
    [
        (HIGH, LOW, ["lead", "manager", "mechanic"], False, "refused-high", ()),
        (SERIOUS, HIGH, ["lead", "manager"], False, "refused-high", ()),
        (SERIOUS, LOW, [], False, "signers-missing", ("lead", "manager")),
        (SERIOUS, LOW, ["lead"], False, "signers-missing", ("manager",)),
        (SERIOUS, LOW, ["lead", "lead"], False, "signers-missing", ("manager",)),
        (SERIOUS, LOW, ["manager", "lead"], True, "allowed", ()),
        (MEDIUM, LOW, ["mechanic"], False, "signers-missing", ("lead",)),
        (MEDIUM, LOW, ["manager"], False, "signers-missing", ("lead",)),
        (MEDIUM, MEDIUM, ["lead"], True, "allowed", ()),
        (MEDIUM, SERIOUS, ["lead", "manager"], False, "worse-with-limit", ()),
        (LOW, LOW, [], False, "signers-missing", ("mechanic",)),
        (LOW, LOW, ["mechanic"], True, "allowed", ()),
        (LOW, LOW, ["lead"], True, "allowed", ()),
        (GONE, GONE, [], True, "allowed", ()),
    ],
)
def test_who_must_sign(without, limited, signed, allowed, code, missing):
    answer = may_carry(without_limit=without, with_limit=limited, signed=signed)
    assert (answer.allowed, answer.code, answer.missing) == (allowed, code, missing)


def test_one_signature_is_not_counted_for_two_duties():
    ladder = {**LADDER, Level.LOW: Rung(signers=("mechanic", "lead"))}
    one = may_carry(without_limit=LOW, with_limit=LOW, signed=["lead"], ladder=ladder)
    two = may_carry(without_limit=LOW, with_limit=LOW, signed=["lead", "lead"], ladder=ladder)
    assert (one.allowed, one.missing) == (False, ("mechanic",))
    assert two.allowed


@given(
    st.sampled_from(Level), st.sampled_from(Level), st.lists(st.sampled_from(["mechanic", "lead", "manager"]))
)
def test_one_more_signature_never_takes_leave_away(without, limited, signed):
    before = may_carry(without_limit=without, with_limit=limited, signed=signed).allowed
    for more in ("mechanic", "lead", "manager"):
        assert may_carry(without_limit=without, with_limit=limited, signed=[*signed, more]).allowed >= before


SIGNED = date(2031, 3, 1)


@pytest.mark.parametrize(
    ("limited", "given_dates", "last"),
    [
        (SERIOUS, {"next_event_end": date(2031, 6, 8)}, date(2031, 6, 8)),
        (SERIOUS, {}, SIGNED),
        (MEDIUM, {}, date(2031, 5, 30)),
        (MEDIUM, {"next_event_end": date(2031, 12, 1)}, date(2031, 5, 30)),
        (MEDIUM, {"idle": True}, date(2031, 8, 28)),
        (LOW, {"next_inspection": date(2031, 11, 2)}, date(2031, 11, 2)),
        (LOW, {}, date(2031, 5, 30)),
        (LOW, {"idle": True}, date(2031, 5, 30)),
        (LOW, {"next_inspection": date(2031, 1, 2)}, SIGNED),
        (GONE, {}, date(2031, 5, 30)),
        (MEDIUM, {"asked": date(2031, 4, 1)}, date(2031, 4, 1)),
        (MEDIUM, {"asked": date(2032, 4, 1)}, date(2031, 5, 30)),
    ],
)
def test_how_long(limited, given_dates, last):
    assert term_end(with_limit=limited, signed_on=SIGNED, **given_dates) == last


def test_high_has_no_term():
    with pytest.raises(ValueError, match="may not be carried forward"):
        term_end(with_limit=HIGH, signed_on=SIGNED)
