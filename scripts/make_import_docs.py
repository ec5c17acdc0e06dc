"""Writes docs/import.md from the tables of the exchange. Run it after changing a table or a column."""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "import.md"


def main() -> None:
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.test")
    import django

    django.setup()
    from readiness.exchange.page import import_page

    PAGE.write_text(import_page(), encoding="utf-8")
    print(f"Wrote {PAGE.relative_to(ROOT)}.")


if __name__ == "__main__":
    main()
