"""The project about itself: documents that cannot drift, nothing of anybody's machine, rooms that stay small."""

import re
import subprocess
from functools import cache
from pathlib import Path

import pytest
from django.core.management import get_commands

from fleet.version import read_version, version

ROOT = Path(__file__).resolve().parent.parent
OUR_APPS = {"fleet", "maintenance", "readiness"}
SETTING = re.compile(r"""(?:env\.(?:text|required|flag|whole|words)|environ\.get)\(\s*["']([A-Z_]+)["']""")


@cache
def tracked() -> tuple[Path, ...]:
    """Every file that is or would be handed in; without git, everything but what is ignored there."""
    done = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return tuple(
        sorted(path for name in set(done.stdout.split("\0")) if name and (path := ROOT / name).is_file())
    )


def texts(*suffixes: str) -> list[tuple[str, str]]:
    found = []
    for path in tracked():
        if suffixes and path.suffix not in suffixes:
            continue
        try:
            found.append((path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")))
        except UnicodeDecodeError:
            continue
    return found


def document(name: str) -> str:
    path = ROOT / name
    return path.read_text(encoding="utf-8") if path.is_file() else ""


# Documents


def test_every_command_is_documented() -> None:
    ours = sorted(name for name, app in get_commands().items() if app in OUR_APPS)
    assert {"backup", "restore", "check_ready"} <= set(ours)
    said = document("DEVELOPERS.md") + document("README.md")
    assert [name for name in ours if f"`manage.py {name}" not in said] == []


def test_every_command_that_a_document_names_is_there() -> None:
    wrong = []
    known = set(get_commands())
    for name, text in texts(".md", ".yml", ".sh", ".service"):
        wrong += [
            f"{name}: {word}" for word in re.findall(r"manage\.py ([a-z_]+)\b", text) if word not in known
        ]
    assert wrong == []


def test_every_setting_is_documented_and_every_documented_one_is_read() -> None:
    read: set[str] = set()
    for name, text in texts(".py"):
        if name.startswith(("config/", "deploy/")):
            read |= set(SETTING.findall(text))
    said = document("docs/settings.md")
    rows = set(re.findall(r"^\| `([A-Z_]+)` \|", said, re.MULTILINE))
    outside = said.partition("## Read by the compose file")[2]
    elsewhere = set(re.findall(r"^\| `([A-Z_]+)` \|", outside, re.MULTILINE))
    assert {"SECRET_KEY", "DATABASE_URL", "PROXIES"} <= read
    assert rows - elsewhere == read
    used = document("docker-compose.yml") + document("deploy/Caddyfile")
    assert [name for name in sorted(elsewhere) if f"${name}" not in used and f"${{{name}" not in used] == []


def test_every_make_target_is_documented_and_every_documented_one_is_there() -> None:
    makefile = document("Makefile")
    targets = set(re.findall(r"^([a-z]+):", makefile, re.MULTILINE))
    phony = re.search(r"^\.PHONY: (.*)$", makefile, re.MULTILINE)
    assert phony is not None
    assert set(phony[1].split()) == targets
    assert set(re.findall(r"^([a-z]+):.*## \S", makefile, re.MULTILINE)) == targets
    assert set(re.findall(r"^\| `make ([a-z]+)` \|", document("DEVELOPERS.md"), re.MULTILINE)) == targets
    for name, text in texts(".md"):
        assert set(re.findall(r"`make ([a-z]+)[` ]", text)) <= targets, name


def test_every_library_has_its_reason_written_down() -> None:
    import tomllib

    project = tomllib.loads(document("pyproject.toml"))
    wanted = [*project["project"]["dependencies"], *project["dependency-groups"]["dev"]]
    names = [re.split(r"[\[<>=]", word)[0] for word in wanted]
    reasons = {
        path.stem: path.read_text(encoding="utf-8") for path in (ROOT / "docs" / "decisions").glob("*.md")
    }
    tools = (reasons["test-tools"] + reasons["check-tools"]).lower().replace(" ", "-")
    assert [name for name in names if name not in reasons and name not in tools] == []


def test_links_between_documents_lead_somewhere() -> None:
    broken = []
    for name, text in texts(".md"):
        for target in re.findall(r"\]\((?!https?:|mailto:|#)([^)#\s]+)", text):
            if not ((ROOT / name).parent / target).exists():
                broken.append(f"{name}: {target}")
    assert broken == []


# Versions


def test_the_version_is_read_from_the_topmost_dated_heading() -> None:
    assert read_version("# Changes\n\n## Next\n\n## 1.4.0 - 2027-02-01\n\n## 1.3.9 - 2027-01-01\n") == "1.4.0"
    with pytest.raises(ValueError, match="no heading"):
        read_version("# Changes\n\n## 1.4\n")
    assert f"\n## {version()} - " in document("CHANGELOG.md")


def test_no_second_place_names_a_version() -> None:
    import tomllib

    project = tomllib.loads(document("pyproject.toml"))["project"]
    assert "version" not in project
    assert project["dynamic"] == ["version"]


def test_headings_of_the_changes_go_down_in_version_and_day() -> None:
    found = re.findall(r"^## (\d+)\.(\d+)\.(\d+) - (\S+)$", document("CHANGELOG.md"), re.MULTILINE)
    keys = [(int(a), int(b), int(c)) for a, b, c, _ in found]
    days = [day for *_, day in found]
    assert keys == sorted(set(keys), reverse=True)
    assert days == sorted(days, reverse=True)


def test_licence_file_and_project_file_agree() -> None:
    assert "GNU GENERAL PUBLIC LICENSE" in document("LICENSE")
    assert "Version 3, 29 June 2007" in document("LICENSE")
    assert 'license = "GPL-3.0-or-later"' in document("pyproject.toml")


# Locks


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_every_locked_package_has_hashes_and_no_address(name: str) -> None:
    text = document(name)
    blocks = re.split(r"\n(?=[a-z0-9])", text[text.index("\n") + 1 :])
    pins = [block for block in blocks if "==" in block.splitlines()[0]]
    assert len(pins) > 40
    assert [block.splitlines()[0] for block in pins if "--hash=sha256:" not in block] == []
    assert re.findall(r"https?://\S+|--(?:extra-)?index-url|--find-links| @ ", text) == []


def test_the_working_lock_holds_the_running_lock_at_the_same_versions() -> None:
    def pins(name: str) -> set[str]:
        return set(re.findall(r"^([a-z0-9.-]+==[^ ;\\]+)", document(name), re.MULTILINE))

    assert pins("requirements.lock") <= pins("requirements-dev.lock")


def test_the_lock_follows_the_project_file() -> None:
    import tomllib

    project = tomllib.loads(document("pyproject.toml"))
    for name, words in {
        "requirements.lock": project["project"]["dependencies"],
        "requirements-dev.lock": project["dependency-groups"]["dev"],
    }.items():
        locked = set(re.findall(r"^([a-z0-9.-]+)==", document(name), re.MULTILINE))
        wanted = {re.split(r"[\[<>=]", word)[0].lower() for word in words}
        assert wanted - {word.replace("[binary]", "") for word in locked} == set()


# Nothing of anybody's machine

OF_A_MACHINE = [
    # Written apart, so that this very file does not hold them.
    "/" + "work/",
    "/" + "root/",
    "/" + "home/",
    "py" + "pi.org",
    "files.python" + "hosted",
    "registry.npm" + "js",
    "deb.deb" + "ian.org",
    "resolved" + '": "http',
]


def test_no_tracked_file_names_a_place_on_somebodys_machine_or_a_registry() -> None:
    found = [
        f"{name}: {word}"
        for name, text in texts()
        for word in OF_A_MACHINE
        if word in text and name != "LICENSE"
    ]
    assert found == []


def test_no_tracked_file_holds_a_key_or_a_database() -> None:
    names = [path.relative_to(ROOT).as_posix() for path in tracked()]
    assert [
        name for name in names if re.search(r"(\.sqlite3|\.pem|\.key|secret-key|/\.env|^\.env)$", name)
    ] == []
    assert [name for name, text in texts() if "PRIVATE " + "KEY-----" in text] == []


# Small rooms


def test_modules_have_at_most_400_lines() -> None:
    ours = [
        (name, text)
        for name, text in texts(".py")
        if "/migrations/" not in name and not name.startswith("tests/")
    ]
    assert {name: text.count("\n") for name, text in ours if text.count("\n") > 400} == {}


def test_templates_have_at_most_150_lines() -> None:
    long = {
        name: text.count("\n")
        for name, text in texts(".html", ".txt")
        if name.startswith("templates/") and text.count("\n") > 150
    }
    assert long == {}


def test_nothing_is_left_for_another_day() -> None:
    marks = re.compile(r"\b(" + "|".join(["TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK"]) + r")\b")
    assert [
        name
        for name, text in texts()
        if name != "LICENSE" and not name.endswith(".lock") and marks.search(text)
    ] == []


def test_shell_scripts_can_be_read_by_the_shell_and_stop_at_a_fault() -> None:
    scripts = [path for path in tracked() if path.read_bytes()[:19] == b"#!/usr/bin/env bash"]
    assert len(scripts) >= 4
    for path in scripts:
        subprocess.run(["bash", "-n", str(path)], check=True)
        assert path.stat().st_mode & 0o111, path
        assert re.search(r"^set -e?uo pipefail$", path.read_text(), re.MULTILINE), path


def test_every_template_and_style_has_no_inline_style_or_script() -> None:
    inline = re.compile(
        r"""\sstyle=["']|\son[a-z]+=["']|<script(?![^>]*\bsrc=)(?![^>]*type=["']application/json)"""
    )
    kept = (
        "templates/print/",
        "templates/email/",
        "templates/layouts/print.html",
    )  # no browser's policy applies to these
    assert [name for name, text in texts(".html") if inline.search(text) and not name.startswith(kept)] == []
