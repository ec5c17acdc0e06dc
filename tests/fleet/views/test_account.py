"""The door: signing in and out, codes, passwords, links, the lamp."""

import datetime as dt
import re
import statistics
import time

import pytest
from django.contrib.sessions.models import Session
from django.core import mail
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from fleet.models import Act, Person
from fleet.services.people import one_time_code
from tests.factories import PersonFactory

pytestmark = pytest.mark.django_db
NEW = "four quiet brass lamps"


@pytest.fixture(autouse=True)
def empty_cache():
    cache.clear()


def sign_in(browser, name, password, **more):
    return browser.post("/sign-in/", {"username": name, "password": password, **more})


def test_signing_in_leads_to_where_one_was_going(client, mechanic, password):
    answer = sign_in(client, "mechanic", password, next="/people/?who=all")
    assert (answer.status_code, answer.url) == (302, "/people/?who=all")
    assert client.session["_auth_user_id"] == str(mechanic.pk)


@pytest.mark.parametrize(
    "bad", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", "http:///x"]
)
def test_next_never_leads_away(client, mechanic, password, bad):
    answer = sign_in(client, "mechanic", password, next=bad)
    assert (answer.status_code, answer.url) == (302, "/")


def test_a_wrong_password_and_an_unknown_name_read_alike(client, mechanic):
    pages = [
        sign_in(client, name, "wrong words here").content.decode() for name in ("mechanic", "nobody-known")
    ]
    plain = [re.sub(r'value="[^"]*"', "", page) for page in pages]
    assert plain[0] == plain[1]
    assert "do not belong together" in plain[0]


def test_those_who_left_are_not_let_in(client, mechanic, password):
    Person.objects.filter(pk=mechanic.pk).update(is_active=False)
    assert sign_in(client, "mechanic", password).status_code == 422


def test_the_typed_name_is_kept_and_the_password_is_not(client, mechanic):
    page = sign_in(client, "mechanic", "wrong words here")
    assert page.status_code == 422
    assert 'value="mechanic"' in page.content.decode()
    assert "wrong words here" not in page.content.decode()


def test_the_session_gets_a_new_key(client, mechanic, password):
    session = client.session
    session["before"] = 1
    session.save()
    old = session.session_key
    sign_in(client, "mechanic", password)
    assert client.session.session_key != old
    assert not Session.objects.filter(session_key=old).exists()


def test_ten_wrong_tries_shut_the_door_for_that_name_from_there(client, mechanic, lead, password, settings):
    settings.AXES_ENABLED = True
    found = [sign_in(client, "mechanic", "wrong words here").status_code for _ in range(10)]
    assert found == [422] * 9 + [429]
    shut = sign_in(client, "mechanic", password)
    assert (shut.status_code, shut["Retry-After"]) == (429, "900")
    assert "15 minutes" in shut.content.decode()
    elsewhere = client.post(
        "/sign-in/", {"username": "mechanic", "password": password}, REMOTE_ADDR="192.0.2.7"
    )
    assert elsewhere.status_code == 302
    client.post("/sign-out/")
    assert sign_in(client, "lead", password).status_code == 302


def test_known_and_unknown_names_take_as_long(client, settings):
    """The real hasher, in turns; the middle of the processor's own time, which other programs do not lengthen."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    PersonFactory(username="known")
    locked = PersonFactory(username="no-password")
    locked.set_unusable_password()
    locked.save()
    taken = {"known": [], "nobody": [], "no-password": []}
    for _ in range(9):
        for name, times in taken.items():
            begun = time.process_time()
            sign_in(client, name, "wrong words here")
            times.append(time.process_time() - begun)
    middle = {name: statistics.median(times) for name, times in taken.items()}
    # a lookup without hashing is some ten times as fast, so half is far outside and noise well inside
    assert max(middle.values()) < 1.5 * min(middle.values()), middle


def test_a_code_opens_one_page_only(client, administrator, mechanic):
    code = one_time_code(by=administrator, person=mechanic)
    answer = sign_in(client, "mechanic", code, next="/vehicles/")
    assert (answer.status_code, answer.url) == (302, "/sign-in/new-password/")
    assert client.get("/vehicles/").status_code == 302  # not signed in yet
    weak = client.post("/sign-in/new-password/", {"new": code, "again": code})
    assert weak.status_code == 422
    assert "another than the code" in weak.content.decode()
    done = client.post("/sign-in/new-password/", {"new": NEW, "again": NEW})
    assert (done.status_code, done.url) == (302, "/vehicles/")
    mechanic.refresh_from_db()
    assert (mechanic.must_change_password, mechanic.check_password(NEW)) == (False, True)
    assert client.get("/vehicles/").status_code == 200


def test_an_old_code_opens_nothing(client, administrator, mechanic):
    code = one_time_code(by=administrator, person=mechanic)
    Person.objects.filter(pk=mechanic.pk).update(code_until=timezone.now() - dt.timedelta(minutes=1))
    page = sign_in(client, "mechanic", code)
    assert page.status_code == 422
    assert "days old" in page.content.decode()


def test_a_second_code_ends_the_first_even_half_used(client, administrator, mechanic):
    sign_in(client, "mechanic", one_time_code(by=administrator, person=mechanic))
    one_time_code(by=administrator, person=mechanic)
    assert client.get("/sign-in/new-password/").url == "/sign-in/"


def test_the_page_after_a_code_waits_a_quarter_of_an_hour(client, administrator, mechanic, time_machine):
    now = dt.datetime(2026, 6, 3, 10, tzinfo=dt.UTC)
    time_machine.move_to(now, tick=False)
    sign_in(client, "mechanic", one_time_code(by=administrator, person=mechanic))
    assert client.get("/sign-in/new-password/").status_code == 200
    time_machine.move_to(now + dt.timedelta(minutes=16), tick=False)
    assert client.get("/sign-in/new-password/").status_code == 302


def test_nobody_reaches_the_new_password_page_without_a_code(client, mechanic):
    assert client.post("/sign-in/new-password/", {"new": NEW, "again": NEW}).url == "/sign-in/"
    mechanic.refresh_from_db()
    assert not mechanic.check_password(NEW)


def test_changing_the_password_ends_every_other_sign_in(login, mechanic, password):
    here, there = login(mechanic), login(mechanic)
    key = here.session.session_key
    answer = here.post("/me/password/", {"old": password, "new": NEW, "again": NEW})
    assert (answer.status_code, answer.url) == (302, "/me/")
    assert here.get("/me/").status_code == 200
    assert here.session.session_key != key
    assert there.get("/me/").status_code == 302


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"old": "not it at all", "new": NEW, "again": NEW}, "That is not your password"),
        ({"new": NEW, "again": "something else here"}, "not alike"),
        ({"new": "short", "again": "short"}, "at least 10"),
    ],
)
def test_a_password_that_is_refused(login, mechanic, password, typed, said):
    page = login(mechanic).post("/me/password/", {"old": password, **typed})
    assert page.status_code == 422
    assert said in page.content.decode()
    mechanic.refresh_from_db()
    assert mechanic.check_password(password)


def test_signing_out(login, mechanic):
    browser = login(mechanic)
    assert browser.post("/sign-out/").url == "/sign-in/"
    assert browser.get("/me/").status_code == 302


def test_signed_in_already_goes_on(login, mechanic):
    assert login(mechanic).get("/sign-in/?next=/me/").url == "/me/"


def test_the_pin_is_kept_as_a_hash_and_taken_away(login, mechanic):
    browser = login(mechanic)
    assert browser.post("/me/pin/", {"pin": "482913", "again": "482913"}).status_code == 302
    mechanic.refresh_from_db()
    assert mechanic.pin
    assert "482913" not in mechanic.pin
    assert browser.post("/me/pin/", {"pin": "", "again": ""}).status_code == 302
    mechanic.refresh_from_db()
    assert mechanic.pin == ""


@pytest.mark.parametrize(
    ("pin", "again", "said"),
    [("123456", "123456", "too easy"), ("482913", "482914", "not alike"), ("12", "12", "6 to 12")],
)
def test_a_pin_that_is_refused(login, mechanic, pin, again, said):
    page = login(mechanic).post("/me/pin/", {"pin": pin, "again": again})
    assert (page.status_code, said in page.content.decode()) == (422, True)


def test_own_address_and_telephone_and_nothing_more(login, mechanic):
    login(mechanic).post(
        "/me/contact/", {"email": "a@example.org", "telephone": "0123", "is_administrator": "on", "name": "X"}
    )
    mechanic.refresh_from_db()
    assert (mechanic.email, mechanic.telephone, mechanic.is_administrator, mechanic.name) == (
        "a@example.org",
        "0123",
        False,
        "Asta Finch",
    )
    assert Act.objects.get(act="person.contact").detail == {"changed": ["email", "telephone"]}


# ---- the link by e-mail ----


@pytest.fixture
def post_office(settings):
    settings.EMAIL_HOST = "mail.example.org"


def ask(client, who):
    return client.post("/sign-in/forgot/", {"who": who})


def test_the_link_works_once(client, mechanic, post_office, password, login):
    Person.objects.filter(pk=mechanic.pk).update(email="asta@example.org")
    elsewhere = login(mechanic)
    assert ask(client, "Asta@Example.org").status_code == 200
    assert [letter.to for letter in mail.outbox] == [["asta@example.org"]]
    link = re.search(r"http\S+/sign-in/reset/\S+", mail.outbox[0].body)[0]
    path = link[link.index("/sign-in") :]
    page = client.get(path)
    assert (page.status_code, page["Referrer-Policy"]) == (200, "no-referrer")
    assert client.post(path, {"new": "short", "again": "short"}).status_code == 422
    assert client.post(path, {"new": NEW, "again": NEW}).url == "/sign-in/"
    assert client.get(path).status_code == 410
    assert client.post(path, {"new": "another four words", "again": "another four words"}).status_code == 410
    assert elsewhere.get("/me/").status_code == 302
    assert sign_in(client, "mechanic", NEW).status_code == 302


def test_asking_tells_nobody_who_is_here(client, mechanic, post_office):
    Person.objects.filter(pk=mechanic.pk).update(email="asta@example.org")
    known, unknown = ask(client, "mechanic"), ask(client, "nobody@example.org")
    assert known.content == unknown.content
    assert len(mail.outbox) == 1


def test_no_letter_to_those_who_left(client, mechanic, post_office):
    Person.objects.filter(pk=mechanic.pk).update(email="asta@example.org", is_active=False)
    ask(client, "mechanic")
    assert mail.outbox == []


def test_letters_are_rationed(client, mechanic, post_office):
    Person.objects.filter(pk=mechanic.pk).update(email="asta@example.org")
    assert [ask(client, "mechanic").status_code for _ in range(6)] == [200] * 5 + [422]
    assert len(mail.outbox) == 5


def test_without_a_mail_server_the_administrator_is_named(client, mechanic):
    page = client.get("/sign-in/forgot/").content.decode()
    assert "Ask the administrator" in page
    assert ask(client, "mechanic").status_code == 200
    assert mail.outbox == []


@pytest.mark.parametrize("uid", ["MQ", "%00", "AAAAAAAAAAAAAAAAAAAAAAAAAAAA", "!!", "LTE"])
def test_a_made_up_link_opens_nothing(client, mechanic, uid):
    assert client.get(f"/sign-in/reset/{uid}/abc-123/").status_code == 410


# ---- the lamp ----


def test_the_lamp_is_kept_in_a_cookie_and_goes_back(client):
    answer = client.post("/lamp/", {"theme": "shed", "next": "/sign-in/?next=/me/"})
    assert answer.url == "/sign-in/?next=/me/"
    cookie = answer.cookies["lamp"]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("shed", True, "Lax")


def test_the_lamp_knows_two_lights_and_no_other_site(client):
    answer = client.post("/lamp/", {"theme": "<b>", "next": "//elsewhere.example/"})
    assert answer.url == "/"
    assert "lamp" not in answer.cookies


def test_the_admin_site_has_no_door_of_its_own(client, administrator, mechanic, login):
    assert (
        client.get(reverse("admin:index"), follow=True)
        .redirect_chain[-1][0]
        .startswith("/sign-in/?next=/admin/")
    )
    assert login(administrator).get(reverse("admin:index")).status_code == 200
    assert login(mechanic).get(reverse("admin:index"), follow=True).status_code == 403
