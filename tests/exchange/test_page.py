from pathlib import Path

from readiness.exchange import TABLES
from readiness.exchange.page import import_page

PAGE = Path(__file__).parents[2] / "docs" / "import.md"


def test_the_page_is_as_the_tables_make_it():
    assert PAGE.read_text(encoding="utf-8") == import_page(), "run scripts/make_import_docs.py"


def test_every_column_is_described_on_it():
    text = PAGE.read_text(encoding="utf-8")
    for table in TABLES.values():
        if table.hidden:
            continue
        section = text.split(f"### {table.name}\n", 1)[1].split("\n### ", 1)[0]
        assert [column.name for column in table.columns if f"| `{column.name}` |" not in section] == []
