"""A museum's server refuses to start half told, and says what to set."""

from pathlib import Path

import pytest

from tests.services.house import House, prod

WANTED = ["SECRET_KEY", "ALLOWED_HOSTS", "SITE_ADDRESS"]


@pytest.mark.parametrize("missing", WANTED)
def test_the_server_refuses_to_start_without(missing: str, tmp_path: Path) -> None:
    house = prod(tmp_path)
    told = {name: value for name, value in house.extra.items() if name != missing}
    refused = House(data=tmp_path, settings=house.settings, extra=told).try_to("check")
    assert refused.returncode != 0
    assert (
        f"{missing} is not set. Set it in .env or the environment, for example {missing}=" in refused.stderr
    )


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("BEHIND_PROXY", "perhaps", "Write BEHIND_PROXY=true or BEHIND_PROXY=false"),
        ("PROXIES", "one", "Write a whole number"),
        ("DATABASE_URL", "mysql://somewhere/museum", "DATABASE_URL must look like postgresql://"),
    ],
)
def test_a_malformed_value_is_named(name: str, value: str, words: str, tmp_path: Path) -> None:
    refused = prod(tmp_path, **{"BEHIND_PROXY": "true", name: value}).try_to("check")
    assert refused.returncode != 0
    assert words in refused.stderr


def test_the_forwarded_address_is_only_believed_behind_a_proxy(tmp_path: Path) -> None:
    code = "from django.conf import settings; print(settings.SECURE_PROXY_SSL_HEADER, settings.PROXIES)"
    assert prod(tmp_path).python(code) == "None 0"
    assert prod(tmp_path, BEHIND_PROXY="true").python(code) == "('HTTP_X_FORWARDED_PROTO', 'https') 1"


def test_cookies_are_for_tls_only_exactly_when_the_address_is(tmp_path: Path) -> None:
    code = "from django.conf import settings as s; print(s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SECURE_HSTS_SECONDS)"
    assert prod(tmp_path).python(code) == "True True 3600"
    assert prod(tmp_path, SITE_ADDRESS="http://board.local").python(code) == "False False 0"


def test_one_machine_keeps_its_secret_to_itself(tmp_path: Path) -> None:
    house = House(data=tmp_path)
    key = house.python("from django.conf import settings; print(settings.SECRET_KEY)")
    assert len(key) > 50
    assert house.python("from django.conf import settings; print(settings.SECRET_KEY)") == key
    assert (tmp_path / "secret-key").stat().st_mode & 0o077 == 0
