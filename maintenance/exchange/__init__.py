"""The workshop's tables, in the order in which they are written."""

from maintenance.exchange.defects import DEFECTS, DEFERRALS, FACT_USES, NOTES, TAGS
from maintenance.exchange.inspecting import INSPECTIONS, MEASURES, READINGS, RESULTS, USE_CHECKS
from maintenance.exchange.jobs import HOURS, JOBS, LEFT_SAFE, SIGNATURES, STEPS, STRIP_ITEMS, TESTS_DONE
from maintenance.exchange.stock import ACCESSES, PARTS, PLACES, SUPPLIERS, TOOLS

TABLES = (
    PLACES, ACCESSES, TOOLS, SUPPLIERS, MEASURES, INSPECTIONS, JOBS, DEFECTS, NOTES, STEPS, STRIP_ITEMS, HOURS, TESTS_DONE,
    SIGNATURES, LEFT_SAFE, PARTS, TAGS, FACT_USES, DEFERRALS, RESULTS, USE_CHECKS, READINGS,
)  # fmt: skip

__all__ = ["TABLES"]
