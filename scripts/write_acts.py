"""Write docs/acts.md from the table of rules: `python scripts/write_acts.py`."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from fleet.rules import ACTS, GROUPS, ROLE_ORDER, STRANGER  # noqa: E402

HEAD = """# Who may do what

One table for the whole house. The program reads the same table (`fleet/rules.py`); a test compares every cell.
This page is written by `python scripts/write_acts.py`.

A person has as many roles as the museum gives them. A stranger is a visitor who has not signed in, and anybody
who has left.

Rules that look at the thing as well as at the role:

- **Second signature**: only by somebody whom the museum has authorised for that area, on the day of signing, and
  who did none of the work on that job. They prove it by their own password or PIN.
- **Put off**: a Serious risk needs the lead *and* the manager, two people. A High risk is nobody's to sign.
- **A trainee** writes hours, steps and the off-and-on list beside somebody; never has a job, hands one in, tests or signs.
- **A job planned for a person** may be taken and handed in by that person, whatever their role.
- **Days**: everybody says when they are in themselves.
- **Nobody authorises themselves** to pass safety work.
- **A table brought in** by one who may is written down in the importer's name, whatever it holds.
"""


def page() -> str:
    roles = (*ROLE_ORDER, STRANGER)
    lines = [HEAD]
    for group, acts in GROUPS.items():
        lines += [f"## {group}", "", f"| act | {' | '.join(roles)} |", f"|---|{'---|' * len(roles)}"]
        for act in acts:
            cells = " | ".join("yes" if role in ACTS[act].roles else "-" for role in roles)
            lines.append(f"| {ACTS[act].words} `{act}` | {cells} |")
        lines.append("")
    return "\n".join(lines)


if __name__ == "__main__":
    (ROOT / "docs" / "acts.md").write_text(page())
