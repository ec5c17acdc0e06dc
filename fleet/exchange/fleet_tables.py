"""The tables of what exists and who we are, in the order in which they are written."""

from fleet.exchange.people_tables import COMPETENCES, DAYS_AWAY, MUSEUM, PEOPLE, SIGN_INS, SKILLS, WORK_DAYS
from fleet.exchange.tables import Table
from fleet.exchange.vehicle_tables import FACTS, METER_HEADS, METERS, OUTINGS, PAPERS, SUBSYSTEMS, VEHICLES

TABLES: tuple[Table, ...] = (
    MUSEUM, SKILLS, PEOPLE, WORK_DAYS, DAYS_AWAY, SIGN_INS, VEHICLES, COMPETENCES, SUBSYSTEMS, METER_HEADS, METERS, OUTINGS,
    PAPERS, FACTS,
)  # fmt: skip
