"""What the compose file, the image, the proxy and the units say, without Docker: they must agree with each other."""

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.services.house import ROOT

INSTALL = (ROOT / "docs" / "install.md").read_text()
COMPOSE = (ROOT / "docker-compose.yml").read_text()
SERVICES: dict[str, dict[str, Any]] = yaml.safe_load(COMPOSE)["services"]
OURS = ["web", "worker", "beat"]


def units() -> dict[str, str]:
    found = {}
    for path in sorted((ROOT / "deploy" / "systemd").glob("running-order-*.service")):
        found[path.stem.removeprefix("running-order-")] = path.read_text()
    return found


def test_the_services_of_a_museum() -> None:
    assert set(SERVICES) == {"migrate", "web", "worker", "beat", "db", "redis", "proxy"}


@pytest.mark.parametrize("name", OURS)
def test_containers_and_units_run_the_documented_command(name: str) -> None:
    command = SERVICES[name]["command"]
    assert f"       {command}\n" in INSTALL
    assert re.search(rf"^ExecStart=\S+/python -m {re.escape(command)}$", units()[name], re.MULTILINE)


def test_the_image_starts_the_pages() -> None:
    words = re.search(r"^CMD \[(.*)\]$", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
    assert words is not None
    assert " ".join(re.findall(r'"([^"]+)"', words[1])) == SERVICES["web"]["command"]


@pytest.mark.parametrize("name", sorted(set(SERVICES) - {"migrate"}))
def test_every_lasting_service_has_a_health_check_and_comes_back(name: str) -> None:
    assert SERVICES[name]["healthcheck"]["test"]
    assert SERVICES[name]["restart"] == "unless-stopped"


@pytest.mark.parametrize("name", OURS)
def test_our_containers_may_do_little(name: str) -> None:
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "ports" not in service
    user = re.search(r"^USER (\w+)$", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
    assert user is not None
    assert user[1] not in {"root", "0"}


def test_only_the_proxy_is_reachable_from_outside() -> None:
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["proxy"]


def test_no_secret_stands_in_the_tracked_files() -> None:
    example = (ROOT / ".env.example").read_text()
    for name in ("SECRET_KEY", "POSTGRES_PASSWORD", "EMAIL_HOST_PASSWORD"):
        assert re.search(rf"^{name}=$", example, re.MULTILINE)
    for line in COMPOSE.splitlines():
        if re.search(r"PASSWORD|SECRET", line):
            assert re.search(r"\$\{POSTGRES_PASSWORD:\?[^}]+\}", line), line


def test_the_example_names_every_value_that_the_compose_file_or_the_server_insists_on() -> None:
    example = set(re.findall(r"^([A-Z_]+)=", (ROOT / ".env.example").read_text(), re.MULTILINE))
    asked = set(re.findall(r"\$\{([A-Z_]+)", COMPOSE)) | set(
        re.findall(r"\{\$([A-Z_]+)\}", (ROOT / "deploy" / "Caddyfile").read_text())
    )
    insisted = set(
        re.findall(r'required\(\s*"([A-Z_]+)"', (ROOT / "config" / "settings" / "prod.py").read_text())
    )
    assert insisted == {"SECRET_KEY", "ALLOWED_HOSTS", "SITE_ADDRESS"}
    assert asked | insisted <= example


def test_client_and_server_of_the_database_are_of_one_version() -> None:
    client = re.search(r"postgresql-client-(\d+)", (ROOT / "Dockerfile").read_text())
    server = re.fullmatch(r"postgres:(\d+)\S*", SERVICES["db"]["image"])
    assert client is not None
    assert server is not None
    assert client[1] == server[1]


def test_the_image_holds_what_the_program_needs_and_nothing_of_a_museum() -> None:
    lines = (ROOT / ".dockerignore").read_text().splitlines()
    assert lines[0] == "*"
    kept = {line[1:] for line in lines if line.startswith("!")}
    assert {
        "config",
        "fleet",
        "maintenance",
        "readiness",
        "templates",
        "static",
        "manage.py",
        "requirements.lock",
    } <= kept
    assert not kept & {"data", ".env", "tests", "backups", ".git"}
    assert all((ROOT / name).exists() for name in kept)


def test_the_proxy_asks_the_web_service_and_believes_no_caller() -> None:
    caddy = (ROOT / "deploy" / "Caddyfile").read_text()
    port = yaml.safe_load(COMPOSE)["x-app"]["environment"]["PORT"]
    assert f"reverse_proxy web:{port} {{" in caddy
    assert "header_up X-Forwarded-For {remote_host}" in caddy
    assert caddy.count("{") == caddy.count("}")


@pytest.mark.parametrize("path", sorted((ROOT / "deploy" / "systemd").iterdir()), ids=lambda path: path.name)
def test_units_point_to_files_that_are_there(path: Path) -> None:
    text = path.read_text()
    for name in re.findall(r"/srv/running-order/(deploy/\S+)", text) + re.findall(
        r"--config (deploy/\S+)", text
    ):
        assert (ROOT / name).is_file()
    if path.suffix == ".timer":
        assert path.with_suffix(".service").is_file()
