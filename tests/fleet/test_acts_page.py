"""docs/acts.md says what the program does: each cell against the rule as it is asked for a person of that role."""

import re
from pathlib import Path

import pytest
from django.contrib.auth.models import AnonymousUser

from fleet.rules import ACTS, ROLE_ORDER, may

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "acts.md"


def cells() -> dict[str, dict[str, str]]:
    found, roles = {}, []
    for line in PAGE.read_text().splitlines():
        columns = [column.strip() for column in line.strip("|").split("|")]
        if columns[0] == "act":
            roles = columns[1:]
        elif len(columns) > 1 and (named := re.search(r"`([a-z_.]+)`$", columns[0])):
            found[named[1]] = dict(zip(roles, columns[1:], strict=True))
    return found


def test_every_act_is_on_the_page():
    assert sorted(cells()) == sorted(ACTS)


@pytest.mark.parametrize("act", sorted(ACTS))
def test_each_cell(act, cast):
    people = {role: getattr(cast, role) for role in ROLE_ORDER} | {"stranger": AnonymousUser()}
    assert cells()[act] == {role: "yes" if may(person, act) else "-" for role, person in people.items()}


def test_the_words_are_the_programs():
    text = PAGE.read_text()
    assert [act for act, rule in ACTS.items() if f"| {rule.words} `{act}` |" not in text] == []
