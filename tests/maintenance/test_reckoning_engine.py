"""Compression and leak-down against the published rules."""

from decimal import Decimal

import pytest

from maintenance.reckoning import leakdown
from maintenance.reckoning.compression import CAUTIONS, judge_by_every_rule, minimum_at, wet_test
from maintenance.reckoning.leakdown import leak, orifice

# TM 5-3895-359-14&P, worked case.
WORKED = ["445", "440", "405", "435"]


def test_the_worked_case_is_flagged_by_one_rule_and_passed_by_two():
    highest, average, spread = judge_by_every_rule(WORKED)
    assert (highest.word, str(highest.by)) == ("within", "16")  # 405/445 = 91.0 %
    assert (average.word, str(average.by)) == ("within", "13.9")  # 405/431.25 = 93.9 %
    assert (spread.word, str(spread.by), spread.flagged) == ("past", "15", (2,))
    assert spread.sentence == "Cylinder 3: past the limit by 15 psi"
    assert len({one.source for one in (highest, average, spread)}) == 3


def test_the_minimum_is_judged_where_the_altitude_is_known():
    low = judge_by_every_rule(WORKED, altitude_ft=7500)[3]
    assert (low.word, str(low.by), low.flagged) == ("past", "5", (2,))
    assert judge_by_every_rule(WORKED, altitude_ft=10000)[3].word == "within"


@pytest.mark.parametrize(
    ("feet", "least"),
    # TM 5-3895-359-14&P, the table, and the stricter row between two.
    [
        (0, 515),
        (500, 515),
        (2499, 515),
        (2500, 480),
        (5000, 440),
        (7500, 410),
        (9999, 410),
        (10000, 380),
        (12000, 380),
    ],
)
def test_minimum_by_altitude(feet, least):
    assert minimum_at(feet).low == least


def test_readings_in_bar_are_judged_by_rules_in_psi():
    spread = judge_by_every_rule(["10", "8.27"], unit="bar")[2]
    # 1.73 bar is 25.09 psi.
    assert (spread.word, str(spread.by)) == ("past", "0.092")


@pytest.mark.parametrize(
    ("dry", "wet", "rise", "suspect"),
    [("6", "7.5", "25", "rings"), ("6", "6.9", "15", "valve or gasket"), ("6", "6", "0", "valve or gasket")],
)
def test_wet(dry, wet, rise, suspect):
    found = wet_test(dry, wet)
    assert (str(found.rise), found.suspect) == (rise, suspect)
    assert f"{rise}%" in found.sentence


@pytest.mark.parametrize(("dry", "wet"), [(None, "6"), ("6", None), ("0", "6")])
def test_wet_needs_both(dry, wet):
    with pytest.raises(ValueError, match="both readings"):
        wet_test(dry, wet)


@pytest.mark.parametrize(
    ("held", "loss", "suspect"),
    # AC 43.13-1B: below 60/80 is suspect; 60/80 itself is not.
    [("60", "25", False), ("59.9", "25.1", True), ("80", "0", False), ("0", "100", True)],
)
def test_leak(held, loss, suspect):
    found = leak(held)
    assert (str(found.loss), found.suspect) == (loss, suspect)
    assert ("3 minutes" in found.sentence) == suspect


def test_makers_may_allow_lower_and_the_hiss_names_the_part():
    assert not leak("50", most=40).suspect
    found = leak("50", hisses="exhaust")
    assert found.look_at == "exhaust valve"
    assert found.sentence.endswith("Heard at exhaust: exhaust valve.")


@pytest.mark.parametrize(("bore", "size"), [("4.99", "0.040"), ("5.00", "0.060"), (6, "0.060")])
def test_orifice(bore, size):
    # AC 43.13-1B.
    assert orifice(bore) == Decimal(size)


@pytest.mark.parametrize(
    "call",
    [
        lambda: leak(None),
        lambda: leak("81"),
        lambda: leak("-1"),
        lambda: leak("10", "0"),
        lambda: leak("10", hisses="boot"),
        lambda: orifice(0),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError):
        call()


def test_cautions_come_first():
    assert all(text.startswith("WARNING. ") for text in (*CAUTIONS, *leakdown.CAUTIONS))
