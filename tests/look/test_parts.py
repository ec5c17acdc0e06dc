"""The parts as markup: what they say aloud, what they draw, and that a misspelt code is refused."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest
from django.template import engines
from django.test import RequestFactory
from django.urls import reverse
from django.utils import translation

from fleet.templatetags import look
from fleet.templatetags.look_geometry import needle, rule_box, tape_box
from fleet.templatetags.look_samples import RULES, TAPES
from tests.look.palette import ROOT


def render(source: str, **context: object) -> str:
    return engines["django"].from_string(source).render(context).strip()


SPRITE = (ROOT / "templates/parts/sprite.html").read_text()


@pytest.mark.parametrize("code", list(look.STANDINGS))
def test_every_standing_has_a_shape_of_its_own_and_a_word(code: str) -> None:
    drawn = re.findall(rf'<symbol id="st-{code}" [^>]*>(.*?)</symbol>', SPRITE)
    assert len(drawn) == 1
    others = re.findall(rf'<symbol id="st-(?!{code}")[^>]*>(.*?)</symbol>', SPRITE)
    assert drawn[0] not in others
    text = render("{% standing code 24 %}", code=code)
    assert f'<use href="#st-{code}"/>' in text
    assert f'<span class="state-w">{look.STANDINGS[code]}</span>' in text
    paper = render("{% print_shape code %}", code=code)
    assert re.search(r"<(circle|path|rect)", paper)
    assert not re.search(r"class=\"(?!psh)", paper)


def test_there_are_eight_words_in_the_order_of_trouble() -> None:
    assert list(look.STANDINGS.values()) == [
        "Barred",
        "Unlikely",
        "Doubtful",
        "Not judged",
        "Likely",
        "Fit with limits",
        "Fit",
        "Stood down",
    ]


def test_barred_has_a_bar_wider_than_its_ring() -> None:
    body = re.findall(r'<symbol id="st-barred" [^>]*>(.*?)</symbol>', SPRITE)[0]
    ring = (
        float(re.findall(r'r="([\d.]+)"', body)[0])
        + float(re.findall(r'stroke-width="([\d.]+)"', body)[0]) / 2
    )
    widths = [float(w) for w in re.findall(r'<rect [^>]*width="([\d.]+)"[^>]*class="f"', body)]
    assert max(widths) > 2 * ring


@pytest.mark.parametrize(
    "source",
    [
        '{% standing "fitt" %}',
        '{% shape "" %}',
        '{% defect_mark "serious" %}',
        '{% sending "lost" "x" %}',
        '{% answer "ok" "x" %}',
        '{% number_panel "T 09" 18 %}',
    ],
)
def test_a_misspelt_code_is_refused_not_drawn_empty(source: str) -> None:
    with pytest.raises(ValueError):
        render(source)


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ("T 09", "T\u00a009"),
        ("T09", "T\u00a009"),
        ("W 1 A", "W\u00a01\u00a0A"),
        ("412", "412"),
        ("Æ 7", "Æ\u00a07"),
    ],
)
def test_number_and_letter_never_part(given: str, wanted: str) -> None:
    assert look.no_break(given) == wanted


def test_stencil_only_from_twenty_pixels() -> None:
    assert "stencil" not in render('{% number_panel "T 09" 15 %}')
    assert "stencil" in render('{% number_panel "T 09" 20 %}')
    assert render('{% number_panel "T 09" 20 href="/v/1/" %}').startswith("<a ")


@pytest.mark.parametrize(
    ("source", "solid", "hollow", "stubs", "said"),
    [
        ("{% pegs 9 %}", 9, 0, 1, "9 in 10"),
        ("{% pegs 6 8 %}", 6, 2, 2, "8 in 10 with standby, 6 without"),
        ("{% pegs 0 8 %}", 0, 8, 2, "8 in 10 with standby, 0 without"),
        ("{% pegs 12 3 %}", 10, 0, 0, "10 in 10"),
    ],
)
def test_pegs(source: str, solid: int, hollow: int, stubs: int, said: str) -> None:
    text = render(source)
    assert text.count('class="ps"') == hollow
    assert text.count('class="pf"') == solid + hollow  # a hollow peg has a dot
    assert text.count('class="pe"') == stubs
    assert re.sub(r"<[^>]+>", "", text).strip() == said


def test_drum_says_the_whole_once() -> None:
    text = render('{% drum "48,217.6" "48,217.6 miles" tenth=True %}')
    assert re.findall(r"<i[^>]*>(.)</i>", text) == list("48217.6")
    assert text.count("aria-label") == 1
    assert re.findall(r"<i[^>]*>(.)</i>", render('{% drum 8 "8 days" digits=2 %}')) == ["0", "8"]


def test_limit_plate_says_no_limit_in_words() -> None:
    assert "No limit" in render("{% limit_plate None %}")
    assert "limitplate words" in render('{% limit_plate "Arena only" %}')
    assert "words" not in render('{% limit_plate 25 "mph" %}')


def test_needle_stands_in_the_sector_that_its_word_names() -> None:
    assert needle(None) == ""
    assert needle(0.0) == "M28 28L4.0 28.0"
    assert needle(0.5) == "M28 28L28.0 4.0"
    assert needle(7.0) == needle(1.0) == "M28 28L52.0 28.0"


def tape(case: str, freeze: float | None, even: float | None, eight: float | None) -> dict[str, object]:
    return tape_box(
        SimpleNamespace(case=case, label="l", words="w", freeze_pct=freeze, even_pct=even, eight_pct=eight)
    )


def test_tape_in_time_has_no_hatch_and_its_dates_right_of_the_line() -> None:
    box = tape("before", 46.0, 10.0, 30.0)
    assert "over_from" not in box
    assert (box["even"], box["eight"], box["join_from"], box["join_to"]) == (
        "10.00%",
        "30.00%",
        "10.00%",
        "30.00%",
    )
    assert (box["words_x"], box["anchor"]) == ("46.00%", "start")


def test_tape_across_is_hatched_from_the_freeze_only() -> None:
    box = tape("across", 46.0, 30.0, 60.0)
    assert (box["over_from"], box["over_width"]) == ("46.00%", "14.00%")
    assert box["words_x"] == "60.00%"


def test_tape_after_is_hatched_from_its_first_stamp() -> None:
    box = tape("after", 46.0, 50.0, 60.0)
    assert (box["over_from"], box["over_width"]) == ("50.00%", "10.00%")


def test_tape_off_the_end_says_so_and_draws_no_stamp_there() -> None:
    box = tape("off_end", 46.0, 80.0, 120.0)
    assert box["gone"] is True
    assert "eight" not in box
    assert (box["over_from"], box["over_width"]) == ("80.00%", "20.00%")
    assert (box["words_x"], box["anchor"]) == ("46.00%", "end")
    both = tape("off_end", 46.0, 130.0, 160.0)
    assert "even" not in both
    assert both["gone"] is True


def test_tape_with_no_freeze_has_no_line_and_no_tint() -> None:
    text = render(
        "{% date_tape t %}",
        t=SimpleNamespace(case="before", label="l", words="w", freeze_pct=None, even_pct=5.0, eight_pct=9.0),
    )
    assert 'class="freeze"' not in text
    assert 'class="late"' not in text


def test_clear_now_and_unknown_have_no_stamps_of_chance() -> None:
    for case in ("clear_now", "unknown"):
        box = tape(case, 46.0, None, None)
        assert not {"even", "eight", "over_from", "gone"} & set(box)


@pytest.mark.parametrize("sample", TAPES, ids=lambda t: t.title)
def test_words_stay_inside_the_tape(sample: object) -> None:
    box = tape_box(sample)  # type: ignore[arg-type]
    at = float(str(box["words_x"]).rstrip("%"))
    assert at <= 74.0 if box["anchor"] == "start" else at >= 26.0


def test_every_tape_is_drawn_with_its_sentence_and_without_a_decimal_comma() -> None:
    with translation.override("de"):
        text = render(
            "{% for t in tapes %}{% date_tape t %}{% endfor %}{% for r in rules %}{% day_rule r %}{% endfor %}",
            tapes=TAPES,
            rules=RULES,
        )
    assert text.count('role="img"') == len(TAPES) + len(RULES)
    for sample in (*TAPES, *RULES):
        assert f'aria-label="{sample.label}"' in text
    assert not re.search(r'(?:x|x1|x2|width)="\d+,', text)


def test_rule_moves_the_event_word_aside_when_its_block_is_narrow() -> None:
    wide, narrow = (rule_box(rule) for rule in RULES)
    assert wide["event"]["wide"] is True
    assert narrow["event"]["wide"] is False
    assert narrow["narrow"] is True
    assert wide["freeze_word"] == "end"


def request(path: str) -> object:
    return RequestFactory().get(path)


@pytest.mark.parametrize(("_", "name", "path", "key"), [*look.NAV, *look.FOOT])
def test_every_word_of_the_menu_leads_somewhere(_: str, name: str, path: str, key: str) -> None:
    assert reverse(name) == path


def test_find_lamp_and_sign_out_lead_somewhere() -> None:
    assert (reverse("readiness:find"), reverse("fleet:lamp")) == ("/find/", "/lamp/")
    assert reverse("fleet:sign_out").startswith("/")


@pytest.mark.parametrize(
    ("path", "current"),
    [("/", "Readiness"), ("/vehicles/3/", "Vehicles"), ("/record/", "Record book"), ("/nowhere/", None)],
)
def test_menu_marks_where_one_is(monkeypatch: pytest.MonkeyPatch, path: str, current: str | None) -> None:
    monkeypatch.setattr(look, "_url", lambda name: f"/{name}/")
    text = render("{% main_nav %}", request=request(path))
    marked = re.findall(r'aria-current="page">([^<]+)<', text)
    assert marked == ([current] if current else [])


def test_menu_obeys_the_page_that_names_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(look, "_url", lambda name: f"/{name}/")
    text = render("{% main_nav %}", request=request("/jobs/7/"), here="workshop")
    assert re.findall(r'aria-current="page">([^<]+)<', text) == ["Workshop"]


def test_a_field_says_what_is_wrong_and_what_may_stay_empty() -> None:
    from django import forms

    class Form(forms.Form):
        what = forms.CharField(label="What", help_text="As the driver would say it.")
        why = forms.CharField(label="Why", required=False)
        told = forms.BooleanField(label="The driver has been told")
        days = forms.MultipleChoiceField(
            label="Days", choices=[("1", "Mon")], widget=forms.CheckboxSelectMultiple
        )

    text = render('{% include "parts/form.html" %}', form=Form({}, auto_id="f_%s"))
    assert 'id="f_what_error"' in text
    assert 'aria-describedby="f_what_helptext f_what_error"' in text
    assert 'id="f_what_helptext"' in text
    assert text.count("(may stay empty)") == 1
    assert '<label for="f_told">The driver has been told</label>' in text
    assert "<legend>Days</legend>" in text
    assert "data-takes-focus" in text


def test_kit_shows_every_part(rf: RequestFactory) -> None:
    text = render((ROOT / "templates/kit.html").read_text(), request=rf.get("/kit/"))
    for word in (*look.STANDINGS.values(), *look.EFFECTS.values()):
        assert word in text
    assert text.count("<h1") == 1
    ids = re.findall(r'\sid="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_strip_is_hidden_until_the_phone_knows() -> None:
    assert " hidden>" in render('{% sending "sent" "" hidden=True %}')
    text = render('{% sending "kept" "Kept on this phone: 3 entries" "No signal." %}')
    assert "hidden>" not in text.replace('aria-hidden="true"', "")
    assert 'href="#send-pocket"' in text
