"""The picture of a history and its finding: the limit, the squares, and where its own line meets the limit."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from maintenance.models import Measure, Reading
from maintenance.views.measures_chart import chart_of, limit_words, value_of
from tests.factories import MeasureFactory
from tests.maintenance.desk.handing_in import text

TODAY = dt.date(2026, 6, 1)


def history(*figures, every=10, **fields):
    measure = Measure(
        name="Free play", unit="mm", **{"judgement": "max", "high": Decimal(30), "source": "manual", **fields}
    )
    start = timezone.make_aware(dt.datetime(2026, 1, 1, 12))
    rows = [
        Reading(
            measure=measure,
            values=[str(one)] if not isinstance(one, list) else one,
            at=start + dt.timedelta(days=every * n),
        )
        for n, one in enumerate(figures)
    ]
    return measure, rows


def test_a_straight_line_meets_the_limit_on_its_day():
    # 20 mm on 1 January, 1 mm every ten days: 30 mm after a hundred days, 11 April.
    chart = chart_of(*history(20, 21, 22, 23, 24), TODAY)
    assert chart.words == "Its own line meets the limit about 11 April."
    assert len(chart.points) == 5
    assert chart.outlook


def test_scatter_gives_a_stretch_of_days():
    words = chart_of(*history(20, 22, 21, 24, 22, 25), TODAY).words
    assert words.startswith("Its own line meets the limit about ")
    assert "by its scatter" in words


def test_a_falling_line_meets_its_least():
    chart = chart_of(*history(10, 9, 8, 7, judgement="min", high=None, low=Decimal(5)), TODAY)
    assert "meets the limit about 20 February" in chart.words
    assert [line.label for line in chart.limits] == ["5 least"]


def test_too_few_points_are_refused_an_outlook():
    chart = chart_of(*history(20, 22, 24), TODAY)
    assert chart.drawn
    assert chart.words == "Too few readings for a line: 3 of 4. No outlook is given."
    assert (chart.outlook, chart.meets_x) == ("", "")
    assert not chart_of(*history(20), TODAY).drawn


def test_four_readings_on_one_day_make_no_line():
    assert "Too few different days" in chart_of(*history(20, 22, 24, 26, every=0), TODAY).words


def test_past_already_and_not_toward_it_are_said():
    assert "past the limit already" in chart_of(*history(28, 29, 31, 33), TODAY).words
    assert "does not run toward the limit" in chart_of(*history(24, 23, 22, 21), TODAY).words


def test_a_range_is_run_toward_the_end_it_drifts_to():
    rising = chart_of(*history(12, 13, 14, 15, judgement="range", low=Decimal(10), high=Decimal(18)), TODAY)
    falling = chart_of(*history(16, 15, 14, 13, judgement="range", low=Decimal(10), high=Decimal(18)), TODAY)
    assert "about 2 March" in rising.words  # 12 on 1 January, 1 every ten days: 18 after sixty
    assert "about 2 March" in falling.words
    assert [line.label for line in rising.limits] == ["10 least", "18 most"]


def test_the_squares_lie_above_and_below_the_limit_as_the_figures_do():
    chart = chart_of(*history(20, 35), TODAY)
    limit = float(chart.limits[0].y)
    low, high = (float(y) + 4 for _, y in chart.points)
    assert low > limit > high


@pytest.mark.parametrize(
    ("judgement", "values", "wanted"),
    [
        ("max", ["1", "3", "2"], 3.0),
        ("min", ["1", "3", ""], 1.0),
        ("spread", ["1", "3.5"], 2.5),
        ("trend", ["1", "3"], 2.0),
        ("max", [""], None),
        ("max", ["soft"], None),
    ],
)
def test_the_figure_that_its_limit_looks_at(judgement, values, wanted):
    assert value_of(Measure(judgement=judgement), values) == wanted


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"judgement": "max", "high": Decimal("30.0"), "unit": "mm"}, "30 mm most"),
        ({"judgement": "min", "low": Decimal("2.5"), "unit": "bar"}, "2.5 bar least"),
        ({"judgement": "range", "low": Decimal(5), "high": Decimal(15), "unit": "K"}, "5 to 15 K"),
        ({"judgement": "spread", "high": Decimal("0.5"), "unit": "mm"}, "0.5 mm most apart"),
        (
            {"judgement": "spread", "low": Decimal(75), "basis": "lowest of highest"},
            "lowest at least 75 % of the highest",
        ),
        ({"judgement": "drop", "high": Decimal(15), "basis": "percent"}, "15 % most less than the last"),
        ({"judgement": "look", "choices": ["sound", "dull?", "|", "cracked"]}, "good: sound, dull"),
    ],
)
def test_the_limit_in_words(fields, words):
    assert limit_words(Measure(**fields)) == words


def test_the_page_draws_it_with_its_label_and_a_table(cast, vehicle, login):
    measure = MeasureFactory(vehicle=vehicle)
    for n in range(5):
        Reading.objects.create(
            measure=measure,
            values=[str(20 + n)],
            at=timezone.now() - dt.timedelta(days=50 - 10 * n),
            verdict="within",
        )
    answer = login(cast.driver).get(reverse("maintenance:reading_history", args=[measure.pk]))
    page = answer.content.decode()
    assert (
        'role="img" aria-label="Free play at the rim, 5 readings. Limit 30 mm most. Its own line meets the limit about'
        in page
    )
    assert page.count('class="pt"') == 5
    assert "style=" not in page.split("<main", 1)[1]
    assert text(answer).count("Within") == 5
