"""A museum of a few rows, as tables, for tests to spoil one cell at a time."""

import textwrap

from readiness.exchange import Report, import_folder

SMALL = {
    "people": """\
        code,name,roles,skills
        P1,Ansel Dorr,lead; mechanic,brakes; petrol
        P2,Hedy Marl,manager,
        P3,Ivo Quist,mechanic,petrol
        """,
    "vehicles": """\
        code,number,name,kind
        V1,7,Teasel,lorry
        V2,9,Bryony,bus
        """,
    "competences": """\
        person,kind,vehicle,area,valid_through
        P1,inspect,,brakes,EV+30
        P3,drive,V1,,EV+30
        """,
    "meters": """\
        vehicle,kind,read_at,shown
        V1,km,EV-30 09:00,18 204
        V1,km,EV-20 09:00,18 230.5
        """,
    "accesses": """\
        name,open_hours,close_hours
        pit,0.3,0.3
        """,
    "inspections": """\
        code,vehicle,kind,name,interval_days,last_on
        I1,V1,brake reading,brake reading,365,EV-340
        """,
    "jobs": """\
        code,vehicle,subsystem,title,rating,effects,hours_best,hours_usual,hours_bad,skills,access,state
        J1,V1,BRK,Pulls left,2C,STOP:reduced,6,10,18,brakes,pit,booked in
        J2,V1,COL,Weeps,4B,COOL:watch,1,2,4,petrol,,assessed
        """,
    "deferrals": """\
        code,defect,rating_without,rating_with,limits,reason,signed_on,signers,ends_on
        D1,J2,4B,4C,daylight only; text: look at it,waits for a gasket,EV-20,P1 as lead,EV+20
        """,
    "events": """\
        code,name,first_day
        EV,Open day,2027-06-12
        """,
    "slots": """\
        event,code,name,role,starts_at,ends_at
        EV,S1,Ring,arena,EV 11:00,11:30
        EV,S2,Road,road,EV 12:00,13:00
        """,
    "entries": """\
        event,slot,vehicle
        EV,S1,V1
        EV,S2,V1
        """,
    "crew": """\
        event,slot,vehicle,duty,person,borrowed
        EV,S1,V1,driver,P3,
        EV,S1,,marshal,,a marshal
        """,
    "ticks": """\
        event,slot,vehicle,deferral,limit
        EV,S1,V1,D1,text: look at it
        """,
}


def tables(**changed: str | None) -> dict[str, bytes]:
    """The small museum with some of its tables replaced; None leaves one out."""
    texts = {**SMALL, **changed}
    return {f"{name}.csv": textwrap.dedent(text).encode() for name, text in texts.items() if text is not None}


def bring(**changed: str | None) -> Report:
    return import_folder(tables(**changed))


def only(**given: str) -> Report:
    """Nothing but these tables."""
    return import_folder({f"{name}.csv": textwrap.dedent(text).encode() for name, text in given.items()})


def told(report: Report) -> list[tuple[str, int | None, str, str, str]]:
    return [(p.table, p.row, p.column, p.words, p.right) for p in report.errors]
