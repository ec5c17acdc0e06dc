"""Work in the middle of which the forecast begins: its people go on with it, by hand on small workshops."""

from dataclasses import replace

import numpy as np

from readiness.engine.forecast import Forecast, forecast
from readiness.engine.workshop import Place, Work, Workshop
from tests.readiness.engine.workshops import NOW, at, day, full_days, hand, work


def shop(*works: Work, hands: tuple = (), **more: object) -> Workshop:
    return Workshop(now=NOW, horizon=at(9), hands=hands or (hand("A", full_days(8)),), works=works, **more)  # type: ignore[arg-type]


def run(workshop: Workshop) -> Forecast:
    params = replace(workshop.params, common_sigma=0.0)
    return forecast(replace(workshop, params=params), samples=8, seed=1)


def done(answer: Forecast, uid: str) -> float:
    """Hours from now until a work is done, the same in every sample."""
    edges = set(answer.finish[uid].tolist())
    assert len(edges) == 1
    edge = edges.pop()
    return np.inf if edge >= answer.grid.never else edge / 4


def test_begun_work_goes_before_a_better_ranked_job_of_the_same_person() -> None:
    """Now is 8:00. 2 of 4 hours are done: finished at 12:00, and the urgent hour comes after it."""
    begun, urgent = work("J", 4.0, rank=5.0, hours_done=2.0, kept_by=("A",)), work("U", 1.0, rank=0.0)
    found = run(shop(begun, urgent))
    assert (done(found, "J"), done(found, "U")) == (4.0, 5.0)
    free = run(shop(replace(begun, kept_by=()), urgent))
    assert (done(free, "U"), done(free, "J")) == (3.0, 5.0)


def test_one_of_two_whose_partner_is_away_waits_for_them() -> None:
    """B comes on the third day only; A has begun with B, so A's other job waits for the end of it."""
    hands = (hand("A", full_days(5)), hand("B", (day(2, worked=24),)))
    pair, other = work("J", 2.0, persons=2, rank=5.0, kept_by=("A", "B")), work("U", 1.0, skills=frozenset())
    found = run(shop(pair, replace(other, prefers="A"), hands=hands))
    assert (done(found, "J"), done(found, "U")) == (52.0, 53.0)


def test_begun_work_that_cannot_go_on_holds_nobody() -> None:
    """They are never there together: A does something else meanwhile."""
    hands = (hand("A", (day(0, worked=24),)), hand("B", (day(2, worked=24),)))
    pair, other = work("J", 2.0, persons=2, kept_by=("A", "B")), work("U", 1.0)
    found = run(shop(pair, other, hands=hands))
    assert (done(found, "J"), done(found, "U")) == (np.inf, 3.0)


def test_work_that_is_not_ready_leaves_its_person_to_others() -> None:
    held = work("J", 2.0, kept_by=("A",), hold_until=at(1))
    found = run(shop(held, work("U", 1.0, rank=9.0)))
    assert (done(found, "U"), done(found, "J")) == (3.0, 28.0)


def test_two_begun_jobs_of_one_person_go_on_one_after_the_other_in_order() -> None:
    first, second = work("J", 2.0, kept_by=("A",), rank=1.0), work("K", 1.0, kept_by=("A",), rank=2.0)
    found = run(shop(first, second))
    assert (done(found, "J"), done(found, "K")) == (4.0, 5.0)


def test_begun_work_holds_its_place() -> None:
    """Two stand begun in a pit for one: the better-ranked goes on, the other waits for the pit with its own people."""
    hands = (hand("A", full_days(5)), hand("B", full_days(5)))
    first = work("J", 2.0, kept_by=("A",), rank=2.0, place="pit")
    second = work("K", 1.0, kept_by=("B",), rank=1.0, place="pit")
    found = run(shop(first, second, hands=hands, places=(Place(uid="pit", name="Pit"),)))
    assert (done(found, "K"), done(found, "J")) == (3.0, 5.0)


def test_whoever_does_not_come_again_leaves_it_to_others() -> None:
    hands = (hand("A", ()), hand("B", full_days(5)))
    found = run(shop(work("J", 2.0, kept_by=("A",)), hands=hands))
    assert done(found, "J") == 4.0
