"""Every kind of error is told with table, row, column and what would be right; and then nothing is written."""

import pytest

from fleet.models import Person, Vehicle
from readiness.exchange import import_folder
from tests.exchange.small import bring, tables, told

pytestmark = pytest.mark.django_db

J = "code,vehicle,subsystem,title,rating,effects,hours_best,hours_usual,hours_bad,skills,access,state,after\n"
DF = "code,defect,rating_without,rating_with,limits,reason,signed_on,signers,ends_on\n"
S = "event,code,name,role,starts_at,ends_at\n"
X = {"deferrals": None, "ticks": None}

CASES = {
    "unknown table": (
        {"vehicels": "code\nV1\n"},
        [("vehicels", None, "", "no table has this name", "vehicles")],
    ),
    "unknown column": (
        {"accesses": "name,open_huors\npit,1\n"},
        [("accesses", 1, "open_huors", "no column has this name", "open_hours")],
    ),
    "column twice": (
        {"accesses": "name,persons,persons\npit,1,2\n"},
        [("accesses", 1, "persons", "the column stands twice", "")],
    ),
    "column without a name": (
        {"accesses": "name,,persons\npit,,2\n"},
        [("accesses", 1, "", "column 2 has no name", "")],
    ),
    "more cells than columns": (
        {"accesses": "name,persons\npit,1,7\n"},
        [
            (
                "accesses",
                2,
                "",
                "more cells than the 2 columns",
                "quotation marks round a cell that holds the delimiter",
            )
        ],
    ),
    "needed column missing": (
        {"vehicles": "code,number,name\nV1,7,Teasel\nV2,8,Bryony\n", "jobs": None, **X},
        [("vehicles", 1, "kind", "the column is missing", "")],
    ),
    "needed cell empty": (
        {"accesses": "name,persons\npit,1\n,2\n"},
        [("accesses", 3, "name", "is needed", "pack lift")],
    ),
    "no name at all": (
        {"jobs": "code,vehicle,title\n,V1,Pulls\n", **X},
        [("jobs", 2, "code", "is needed: without it nothing can point at this row", "")],
    ),
    "needed value empty": (
        {"vehicles": "code,number,name,kind\nV1,7,,lorry\nV2,8,Bryony,bus\n"},
        [("vehicles", 2, "name", "is needed", "Bramble")],
    ),
    "unknown vehicle": (
        {"competences": "person,kind,vehicle\nP1,drive,V3\n"},
        [("competences", 2, "vehicle", "'V3' is not known in vehicles", "V2")],
    ),
    "unknown system of that vehicle": (
        {"jobs": J + "J1,V2,BRQ,Pulls,,,,,,,,,\n", **X},
        [("jobs", 2, "subsystem", "'BRQ' is not known in subsystems", "BRK")],
    ),
    "unknown skill of a job": (
        {"jobs": J + "J1,V1,,Pulls,,,,,,brake,,,\n", **X},
        [("jobs", 2, "skills", "'brake' is not known in skills", "brakes")],
    ),
    "unknown word": (
        {"jobs": J + "J1,V1,,Pulls,,,,,,,,bookd in,\n", **X},
        [("jobs", 2, "state", "'bookd in' is not known here", "booked in")],
    ),
    "no number": (
        {"accesses": "name,open_hours\npit,half\n"},
        [("accesses", 2, "open_hours", "'half' is no number", "1.5")],
    ),
    "too many decimals": (
        {"accesses": "name,open_hours\npit,0.333\n"},
        [("accesses", 2, "open_hours", "Ensure that there are no more than 2 decimal places.", "")],
    ),
    "out of bounds": (
        {"accesses": "name,discovery\npit,1.5\n"},
        [("accesses", 2, "discovery", "Ensure this value is less than or equal to 1.", "")],
    ),
    "too long": (
        {"accesses": f"name\npit\n{'p' * 41}\n"},
        [("accesses", 3, "name", "Ensure this value has at most 40 characters (it has 41).", "")],
    ),
    "code with a space": (
        {
            "vehicles": "code,number,name,kind\nV 1,7,Teasel,lorry\n",
            "meters": None,
            "competences": None,
            "inspections": None,
            "jobs": None,
            "entries": None,
            "crew": None,
            **X,
        },
        [("vehicles", 2, "code", "Letters, digits, - and _ only.", "")],
    ),
    "short name twice": (
        {"jobs": J + "J1,V1,,Pulls,,,,,,,,,\nj1,V1,,Again,,,,,,,,,\n", **X},
        [("jobs", 3, "code", "j1 stands already in row 2", "")],
    ),
    "job and defect of one name": (
        {"defects": "code,vehicle,title\nJ1,V1,Mine\n", **X},
        [("defects", 2, "code", "J1 stands already in row 2 of jobs", "")],
    ),
    "painted number twice": (
        {"vehicles": "code,number,name,kind\nV1,7,Teasel,lorry\nV2,7,Bryony,bus\n"},
        [("vehicles", 3, "number", "'7' is V1's already", "")],
    ),
    "hours that do not rise": (
        {"jobs": J + "J1,V1,,Pulls,,,6,5,18,,,,\n", **X},
        [("jobs", 2, "hours_usual", "Best, usual, bad must rise: 6, 5, 18 do not.", "")],
    ),
    "held for nothing": (
        {"jobs": J + "J1,V1,,Pulls,,,,,,,,held,\n", **X},
        [("jobs", 2, "held_for", "Say what it is held for.", "")],
    ),
    "no rating": (
        {"jobs": J + "J1,V1,,Pulls,C2,STOP:lost,,,,,,,\n", **X},
        [("jobs", 2, "rating", "'C2' is no rating", "2C (a figure 1 to 4, then a letter A to F)")],
    ),
    "no function": (
        {"jobs": J + "J1,V1,,Pulls,2C,STP:lost,,,,,,,\n", **X},
        [("jobs", 2, "effects", "'STP' is no function", "STOP")],
    ),
    "no effect": (
        {"jobs": J + "J1,V1,,Pulls,2C,STOP:lots,,,,,,,\n", **X},
        [("jobs", 2, "effects", "'STOP:lots' does not say lost, reduced or watch", "STOP:lost")],
    ),
    "High that only watches": (
        {"jobs": J + "J1,V1,,Pulls,1C,STOP:watch,,,,,,,\n", **X},
        [
            (
                "jobs",
                2,
                "effects",
                "Rated High, and yet no function is lost or reduced. Say which function it takes, or rate it again.",
                "STOP:lost",
            )
        ],
    ),
    "jobs in a ring": (
        {"jobs": J + "J1,V1,,A,,,,,,,,,J2\nJ2,V1,,B,,,,,,,,,J3\nJ3,V1,,C,,,,,,,,,J1\n", **X},
        [("jobs", 2, "after", "these jobs wait for each other: J1, J2, J3", "")],
    ),
    "a job that waits for itself": (
        {"jobs": J + "J1,V1,,A,,,,,,,,,J1\n", **X},
        [("jobs", 2, "after", "these jobs wait for each other: J1", "")],
    ),
    "meter runs backwards": (
        {"meters": "vehicle,kind,read_at,shown\nV1,km,EV-30,100\nV1,km,EV-20,99\n"},
        [
            (
                "meters",
                3,
                "shown",
                "99 on 2027-05-23 is lower than 100 on 2027-05-13",
                "a higher figure, or changed yes when the meter itself was changed",
            )
        ],
    ),
    "deferral ends before it is signed": (
        {
            "deferrals": DF + "D1,J2,4B,4C,daylight only,waits for parts,EV-20,P1 as lead,EV-21\n",
            "ticks": None,
        },
        [("deferrals", 2, "ends_on", "it ends before it is signed", "2027-05-23 or later")],
    ),
    "High put off": (
        {"deferrals": DF + "D1,J2,2A,2C,static only,waits for parts,EV-20,P1 as lead,EV+2\n", "ticks": None},
        [
            (
                "deferrals",
                2,
                "rating_without",
                "A High risk may not be put off, whoever signs. Repair it, or hang a do-not-run tag.",
                "",
            )
        ],
    ),
    "limit of no kind": (
        {"deferrals": DF + "D1,J2,4B,4C,max sped=20,waits for parts,EV-20,P1 as lead,EV+2\n", "ticks": None},
        [("deferrals", 2, "limits", "'max sped' is no kind of limit", "max speed")],
    ),
    "limit without its figure": (
        {"deferrals": DF + "D1,J2,4B,4C,max speed,waits for parts,EV-20,P1 as lead,EV+2\n", "ticks": None},
        [("deferrals", 2, "limits", "'max speed' needs a figure", "max speed=20")],
    ),
    "signer of no role": (
        {
            "deferrals": DF + "D1,J2,4B,4C,daylight only,waits for parts,EV-20,P1 as leed,EV+2\n",
            "ticks": None,
        },
        [("deferrals", 2, "signers", "'leed' is no role that signs", "lead")],
    ),
    "signer without a role": (
        {"deferrals": DF + "D1,J2,4B,4C,daylight only,waits for parts,EV-20,P1,EV+2\n", "ticks": None},
        [("deferrals", 2, "signers", "'P1' does not say who signs as what", "P02 as lead")],
    ),
    "inspector who did the work": (
        {
            "hours": "job,person,day,hours\nJ1,P1,EV-9,2\n",
            "signatures": "job,kind,person,at\nJ1,inspector,P1,EV-8 15:00\n",
        },
        [
            (
                "signatures",
                2,
                "person",
                "Ansel Dorr worked on J1: whoever did safety work does not pass it",
                "another inspector",
            )
        ],
    ),
    "inspector without authority": (
        {"signatures": "job,kind,person,at\nJ1,inspector,P3,EV-8 15:00\n"},
        [
            (
                "signatures",
                2,
                "person",
                "Ivo Quist is not authorised to pass brakes",
                "a row in competences, or another inspector",
            )
        ],
    ),
    "tag lifted by another": (
        {
            "tags": "vehicle,stub,reason,placed_at,lifted_at,lifted_by\nV1,T1,cracked,EV-9 09:00,EV-8 09:00,P3\n"
        },
        [("tags", 2, "lifted_by", "Ivo Quist is not the workshop lead: only the lead lifts a tag", "")],
    ),
    "tag for no reason": (
        {"tags": "vehicle,stub\nV1,T1\n"},
        [("tags", 2, "reason", "a tag without a job says why it hangs", "lock ring pitted")],
    ),
    "tag lifted by nobody": (
        {"tags": "vehicle,stub,reason,placed_at,lifted_at\nV1,T1,cracked,EV-9 09:00,EV-8 09:00\n"},
        [("tags", 2, "lifted_by", "a lifted tag says who lifted it", "the workshop lead")],
    ),
    "day of no event": (
        {"competences": "person,kind,vehicle,valid_through\nP1,drive,V1,EW+3\n"},
        [("competences", 2, "valid_through", "'EW+3' is no day: no event has the code EW", "EV+3")],
    ),
    "slot ends before it starts": (
        {"slots": S + "EV,S1,Ring,arena,EV 11:00,10:30\nEV,S2,Road,road,EV 12:00,13:00\n"},
        [("slots", 2, "ends_at", "A slot must end after it starts.", "")],
    ),
    "slot outside its event": (
        {"slots": S + "EV,S1,Ring,arena,EV 11:00,11:30\nEV,S2,Road,road,EV+3 12:00,13:00\n"},
        [("slots", 3, "starts_at", "lies outside EV", "2027-06-12 to 2027-06-12")],
    ),
    "unknown slot": (
        {"entries": "event,slot,vehicle\nEV,S1,V1\nEV,S3,V1\n"},
        [("entries", 3, "slot", "'S3' is no slot of EV", "S2")],
    ),
    "slot on no such day": (
        {"entries": "event,slot,day,vehicle\nEV,S1,,V1\nEV,S2,EV+1,V1\n"},
        [("entries", 3, "slot", "S2 has no slot on EV+1", "2027-06-12")],
    ),
    "vehicle not entered": (
        {"crew": "event,slot,vehicle,duty,person\nEV,S1,V2,driver,P3\n"},
        [("crew", 2, "vehicle", "V2 is not entered in EV / S1 / 2027-06-12", "V1")],
    ),
    "nobody on the duty": (
        {"crew": "event,slot,duty\nEV,S1,marshal\n"},
        [("crew", 2, "", "Name one of our people, or write the name of a borrowed one.", "")],
    ),
    "limit that is not there": (
        {"ticks": "event,slot,vehicle,deferral,limit\nEV,S1,V1,D1,text: look at\n"},
        [("ticks", 2, "limit", "'text: look at' is no limit of D1", "text: look at it")],
    ),
    "covers itself": (
        {"entries": "event,slot,vehicle,covers\nEV,S1,V1,\nEV,S2,V1,V1\n"},
        [("entries", 3, "covers", "a vehicle cannot cover itself", "another vehicle")],
    ),
    "second museum": (
        {"museum": "name\nOne\nTwo\n"},
        [("museum", 3, "", "museum stands already in row 2", "")],
    ),
    "no such zone": (
        {"museum": "name,time_zone\nOne,Europe/Atlantis\n"},
        [
            (
                "museum",
                2,
                "time_zone",
                "Europe/Atlantis is not a time zone. Write one such as Europe/London.",
                "",
            )
        ],
    ),
    "pattern on another weekday": (
        {"work_days": "person,weekday,every_weeks,counted_from\nP1,Sunday,2,EV\n"},
        [("work_days", 2, "counted_from", "That day is not the weekday of the pattern.", "")],
    ),
    "reading without all its places": (
        {
            "measures": "code,vehicle,system,name,judgement,positions,high,source\nM1,V1,BRK,bore,max,left; right,9,our sheet\n",
            "readings": "measure,values,at\nM1,8,EV-9 10:00\n",
        },
        [("readings", 2, "values", "1 values for 2 positions (left, right)", "")],
    ),
    "part on order for no day": (
        {"parts": "code,name,job,state\nPT1,hose,J1,on order\n"},
        [("parts", 2, "promised_on", "Write the promised date, or mark it not ordered.", "")],
    ),
    "control character": (
        {"accesses": "name\npi\x07t\n", "jobs": J + "J1,V1,,Pulls,,,,,,,,,\n", **X},
        [("accesses", 2, "name", "a control character stands in the text", "plain text")],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_each_kind_of_error(case):
    changed, wanted = CASES[case]
    report = bring(**changed)
    assert told(report) == wanted
    assert (report.ok, report.written) == (False, False)
    assert Person.objects.count() == 0
    assert Vehicle.objects.count() == 0


def test_all_errors_are_told_at_once_in_the_order_of_the_tables():
    report = bring(
        people="code,name,roles,skills\nP1,Ansel Dorr,leed,brakes; petrol\nP2,Hedy Marl,manager,\nP3,Ivo Quist,mechanic,petrol\n",
        accesses='name,open_hours\npit,"0,3"\nhoist,x\n',
        competences="person,kind,vehicle,valid_through\nP9,drive,V1,soon\n",
    )
    assert told(report) == [
        ("people", 2, "roles", "'leed' is not known here", "lead"),
        ("competences", 2, "person", "'P9' is not known in people", "P3"),
        ("competences", 2, "valid_through", "'soon' is no day: no event has the code soon", "2027-05-01"),
        ("accesses", 2, "open_hours", "'0,3' has a comma", "0.3"),
        ("accesses", 3, "open_hours", "'x' is no number", "1.5"),
    ]
    assert (
        str(report.errors[0])
        == "people, row 2, column roles: 'leed' is not known here. Right would be: lead."
    )


def test_one_wrong_row_among_good_ones_keeps_all_out():
    good = tables()
    report = import_folder({**good, "people.csv": good["people.csv"] + b"P4,Una Prow,,\nP4,Una Prow,,\n"})
    assert [problem.row for problem in report.errors] == [6]
    assert Person.objects.count() == 0


def test_a_table_handed_in_twice_is_refused():
    report = import_folder({"people.csv": b"code,name\nP1,Ansel\n", "People.CSV": b"code,name\nP2,Hedy\n"})
    assert [problem.words for problem in report.errors] == ["the table was handed in twice"]
