from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.models import Photo
from fleet.services.photos import photo_add
from tests.fleet.views.pictures import jpeg

pytestmark = pytest.mark.django_db


@pytest.fixture
def photo(lead, vehicle):
    return photo_add(by=lead, upload=jpeg(900, 600), vehicle=vehicle, shows="Near side")


def hand_in(browser, data: bytes, name: str = "a.jpg", shows: str = "Engine bay"):
    upload = SimpleUploadedFile(name, data, content_type="image/jpeg")
    return browser.post("/vehicles/V01/photos/", {"photo": upload, "shows": shows})


def test_adding_a_photograph(login, driver, vehicle):
    assert hand_in(login(driver), jpeg()).status_code == 302
    row = Photo.objects.get()
    assert (row.vehicle, row.by, row.shows) == (vehicle, driver, "Engine bay")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"<svg xmlns='x'/>", "a drawing"),
        (b"GIF89a....", "GIF"),
        (b"\xff\xd8\xff broken", "damaged"),
        (b"", "empty"),
    ],
)
def test_what_is_no_photograph_is_refused_and_the_words_stay(login, driver, vehicle, data, said):
    page = hand_in(login(driver), data)
    text = page.content.decode()
    assert (page.status_code, said in text) == (422, True)
    assert 'value="Engine bay"' in text
    assert "Choose the photograph again" in text
    assert not Photo.objects.exists()


@pytest.mark.parametrize("size", ["small", "large"])
def test_the_picture_is_streamed_to_those_signed_in(login, driver, stranger, photo, size):
    where = f"/photos/{photo.pk}/{size}.jpg"
    assert stranger.get(where).status_code == 302
    answer = login(driver).get(where)
    data = b"".join(answer.streaming_content)
    answer.close()
    kept = photo.small if size == "small" else photo.file
    assert data == Path(kept.path).read_bytes()
    assert (answer["Content-Type"], answer["Cache-Control"], answer["X-Content-Type-Options"]) == (
        "image/jpeg",
        "private, max-age=86400",
        "nosniff",
    )


def test_sizes_that_do_not_exist_and_files_that_are_gone(login, driver, photo):
    browser = login(driver)
    assert browser.get(f"/photos/{photo.pk}/../../x.jpg").status_code == 404
    assert browser.get(f"/photos/{photo.pk}/huge.jpg").status_code == 404
    assert browser.get("/photos/999999/small.jpg").status_code == 404
    Path(photo.small.path).unlink()
    assert browser.get(f"/photos/{photo.pk}/small.jpg").status_code == 404
