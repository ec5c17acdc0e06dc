"""Properties of the gates: more trouble never looks better, less never worse, order never matters."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from fleet.enums import Function
from readiness.engine import gates, state
from readiness.engine.roles import ROLES
from tests.readiness.engine.cases import (
    day,
    defect,
    deferral,
    entry,
    inspections,
    job,
    judge,
    limit,
    slot,
    vehicle,
)

FUNCTIONS = st.sampled_from(sorted(Function.values))
LIMITS = st.sampled_from(
    ["static only", "arena only", "no arena", "no road", "no passengers", "daylight only", "free text"]
)


@st.composite
def defects(draw: st.DrawFn) -> state.Defect:
    n = draw(st.integers(0, 9))
    assessed = draw(st.booleans())
    put_off = (
        deferral(
            *(limit(k, uid=f"L{n}-{i}") for i, k in enumerate(draw(st.lists(LIMITS, max_size=2)))), uid=f"DF{n}",
            ends_on=day(draw(st.integers(-3, 3))),
        ),
    )  # fmt: skip
    return defect(
        draw(st.sampled_from(["lost", "reduced", "watch"])), draw(FUNCTIONS), uid=f"D{n}", assessed=assessed,
        severity=draw(st.integers(1, 4)), probability=draw(st.sampled_from("ABCDE")),
        deferrals=put_off if draw(st.booleans()) else (), jobs=draw(st.sampled_from([(), ("J1",), ("J2",), ("J1", "J2")])),
    )  # fmt: skip


@st.composite
def vehicles(draw: st.DrawFn) -> state.Vehicle:
    faults = draw(st.lists(defects(), max_size=3, unique_by=lambda d: d.uid))
    kinds = draw(st.lists(st.sampled_from(range(4)), unique=True, max_size=4))
    rows = tuple(replace(inspections()[i], valid_through=day(draw(st.integers(-2, 5)))) for i in kinds)
    jobs = (
        job(
            uid="J1",
            functions=frozenset({draw(FUNCTIONS)}),
            stripped=draw(st.booleans()),
            voids=frozenset({"brake reading"}),
        ),
        job(uid="J2", functions=frozenset({draw(FUNCTIONS)}), before_event=draw(st.booleans())),
    )
    return vehicle(defects=tuple(faults), inspections=rows, jobs=jobs)


PLACES = st.builds(lambda role: entry(slot(role)), st.sampled_from(ROLES))


def rank(verdict: gates.Verdict, percent: int = 50) -> int:
    return gates.ORDER.index(gates.with_chance(verdict, 0 if verdict.impossible else percent))


@given(vehicles(), defects(), PLACES)
def test_one_more_defect_never_improves(v: state.Vehicle, d: state.Defect, e: state.Entry) -> None:
    more = replace(v, defects=(*v.defects, replace(d, uid="D-more")))
    assert rank(judge(more, e)) <= rank(judge(v, e))


@given(vehicles(), PLACES)
def test_closing_a_defect_never_worsens(v: state.Vehicle, e: state.Entry) -> None:
    before = rank(judge(v, e))
    for n in range(len(v.defects)):
        assert rank(judge(replace(v, defects=v.defects[:n] + v.defects[n + 1 :]), e)) >= before


@given(vehicles(), PLACES, LIMITS)
def test_one_more_limit_never_improves(v: state.Vehicle, e: state.Entry, kind: str) -> None:
    def tighter(d: state.Defect) -> state.Defect:
        return replace(
            d, deferrals=tuple(replace(x, limits=(*x.limits, limit(kind, uid="L-more"))) for x in d.deferrals)
        )

    # static-only lengthens a term in the ladder; that is the ladder's own doing, so the term is kept out of this.
    if kind in {"static only", "equipment locked"}:
        return
    more = replace(v, defects=tuple(tighter(d) for d in v.defects))
    assert rank(judge(more, e)) <= rank(judge(v, e))


@given(vehicles(), PLACES, st.integers(0, 3))
def test_an_earlier_expiry_never_improves(v: state.Vehicle, e: state.Entry, days: int) -> None:
    def sooner(i: state.Inspection) -> state.Inspection:
        assert i.valid_through is not None
        return replace(i, valid_through=i.valid_through.fromordinal(i.valid_through.toordinal() - days))

    earlier = replace(v, inspections=tuple(sooner(i) for i in v.inspections))
    assert rank(judge(earlier, e)) <= rank(judge(v, e))


@given(vehicles(), PLACES, st.randoms(use_true_random=False))
def test_order_of_input_never_matters(v: state.Vehicle, e: state.Entry, r: object) -> None:
    def shuffled(rows: tuple[object, ...]) -> tuple[object, ...]:
        mixed = list(rows)
        r.shuffle(mixed)  # type: ignore[attr-defined]
        return tuple(mixed)

    other = replace(
        v,
        defects=shuffled(v.defects),
        inspections=shuffled(v.inspections),
        jobs=shuffled(v.jobs),
        papers=shuffled(v.papers),
    )  # type: ignore[arg-type]
    assert judge(other, e) == judge(v, e)


@given(vehicles(), PLACES)
def test_a_tag_never_improves_and_never_reads_fit(v: state.Vehicle, e: state.Entry) -> None:
    tagged = judge(replace(v, tag=state.TagState(uid="t", job="J1")), e)
    assert rank(tagged) <= rank(judge(v, e))
    assert tagged.standing not in {"fit"} | ({"limits"} if e.slot.role != "static" else set())


@given(vehicles(), PLACES)
def test_every_open_gate_names_work_or_an_act(v: state.Vehicle, e: state.Entry) -> None:
    for reason in judge(v, e).reasons:
        if reason.weight in {"open", "unjudged"}:
            assert reason.clears or reason.act
        assert reason.words
