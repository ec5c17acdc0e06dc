"""Every case of the table that Python and the phone share, and the properties behind it."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.limits import KINDS, WORDS, Limit, judge, read_limit

CASES = json.loads(Path(__file__).with_name("limit_cases.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_shared_table(case):
    verdict = judge(
        read_limit(case["limit"]),
        case["values"],
        case.get("previous"),
        unit=case.get("unit"),
        elapsed=case.get("elapsed"),
        names=case.get("names"),
    )
    expected = case["expect"]
    found = {
        "word": verdict.word,
        "by": None if verdict.by is None else str(verdict.by),
        "unit": verdict.unit,
        "sentence": verdict.sentence,
        "flagged": list(verdict.flagged),
    }
    assert found == expected
    assert verdict.source == case["limit"]["source"]
    assert verdict.passes == (expected["word"] in {"within", "near"})


def test_the_table_has_every_kind_and_every_word():
    assert {case["limit"]["kind"] for case in CASES} == set(KINDS)
    assert {case["expect"]["word"] for case in CASES} == set(WORDS)
    assert len({case["name"] for case in CASES}) == len(CASES)


figures = st.decimals(-500, 500, places=3)
steps = st.decimals(Decimal("0.001"), 100, places=3)


@given(figures, steps)
def test_equal_passes_and_the_least_beyond_does_not(figure, step):
    least = Limit(kind="min", source="x", low=figure)
    most = Limit(kind="max", source="x", high=figure)
    assert judge(least, [figure]).word == judge(most, [figure]).word == "within"
    assert judge(least, [figure - step]).word == judge(most, [figure + step]).word == "past"
    assert judge(least, [figure - step]).by == step.normalize()


@given(st.lists(figures, min_size=2, max_size=6), st.decimals(0, 300, places=2), st.randoms())
def test_the_order_of_the_readings_changes_nothing(values, high, random):
    limit = Limit(kind="spread", source="x", high=high, near=Decimal(5))
    turned = list(range(len(values)))
    random.shuffle(turned)
    before = judge(limit, values)
    after = judge(limit, [values[i] for i in turned])
    assert (before.word, before.by) == (after.word, after.by)
    assert sorted(turned[i] for i in after.flagged) == list(before.flagged)


@given(figures, figures, st.decimals(0, 100, places=2), st.decimals(0, 100, places=2))
def test_a_wider_limit_never_turns_a_pass_into_a_fail(value, low, width, more):
    narrow = Limit(kind="range", source="x", low=low, high=low + width)
    wide = Limit(kind="range", source="x", low=low - more, high=low + width + more)
    assert judge(narrow, [value]).passes <= judge(wide, [value]).passes


@given(st.lists(st.decimals(1, 500, places=2), min_size=2, max_size=6))
def test_relative_rules_do_not_mind_the_unit(values):
    for measure, bound in (("lowest of highest", {"low": 75}), ("below average", {"high": 20})):
        limit = Limit(
            kind="spread",
            source="x",
            unit="bar",
            measure=measure,
            **{k: Decimal(v) for k, v in bound.items()},
        )
        assert judge(limit, values) == judge(limit, values, unit="psi")


@pytest.mark.parametrize(
    ("row", "match"),
    [
        ({"kind": "most", "source": "x"}, "Unknown kind"),
        ({"kind": "min", "source": " ", "low": "1"}, "carry its source"),
        ({"kind": "min", "source": "x", "high": "1"}, "needs its low"),
        ({"kind": "max", "source": "x"}, "needs its high"),
        ({"kind": "range", "source": "x", "low": "2", "high": "1"}, "from low to high"),
        ({"kind": "spread", "source": "x", "high": "1", "measure": "percent"}, "cannot be measured"),
        ({"kind": "spread", "source": "x", "high": "1", "measure": "lowest of highest"}, "needs its low"),
        ({"kind": "drop", "source": "x", "high": "1", "way": "down"}, "cannot be measured"),
        ({"kind": "drop", "source": "x", "high": "1", "per": "0"}, "above zero"),
        ({"kind": "max", "source": "x", "high": "1", "near": "-1"}, "near margin"),
        ({"kind": "look", "source": "x"}, "needs its choices"),
        ({"kind": "look", "source": "x", "choices": {"dry": "fine"}}, "needs its choices"),
        ({"kind": "max", "source": "x", "high": "ten"}, "not a number"),
        ({"kind": "max", "source": "x", "high": "1", "colour": "red"}, "Unknown in a limit: colour"),
    ],
)
def test_bad_limits_are_refused(row, match):
    with pytest.raises(ValueError, match=match):
        read_limit(row)


def test_bad_readings_are_refused():
    limit = Limit(kind="max", source="x", high=Decimal(1), unit="mm")
    with pytest.raises(TypeError, match="binary"):
        judge(limit, [0.1])
    with pytest.raises(ValueError, match="not a number"):
        judge(limit, ["tight"])
    with pytest.raises(ValueError, match="measures"):
        judge(limit, ["1"], unit="bar")
