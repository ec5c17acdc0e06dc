import pytest

from fleet.enums import Function
from fleet.hazards import ABOVE_ALL, HAZARDS, hazards_for
from fleet.models import VehicleKind
from fleet.system_template import SYSTEMS, rows_for, system_codes


def test_codes_are_the_trade_twenty():
    assert " ".join(system.code for system in SYSTEMS) == (
        "ENG FUL IGN COL EXH ELE TRN STE BRK SUS WHL TRK CHA BOD HYD EQP FIR INS STM MRK"
    )


@pytest.mark.parametrize(
    ("kind", "marks", "there", "missing"),
    [
        ("lorry", {}, {"WHL", "BRK", "HYD"}, {"TRK", "STM"}),
        ("half-track", {}, {"WHL", "TRK"}, {"STM"}),
        ("tracked", {}, {"TRK"}, {"WHL"}),
        ("crawler tractor", {}, {"TRK"}, {"WHL"}),
        ("bus", {}, {"BOD", "WHL"}, {"HYD", "EQP", "TRK"}),
        ("bus", {"lifts": True}, {"HYD"}, {"EQP"}),
        ("steam", {}, {"STM", "WHL", "BRK"}, {"ENG", "FUL", "IGN", "COL", "EXH"}),
        ("other", {"is_steam": True, "is_tracked": True}, {"STM", "TRK", "ENG"}, set()),
    ],
)
def test_what_a_kind_has(kind, marks, there, missing):
    codes = system_codes(kind, **marks)
    assert there <= codes
    assert not missing & codes


@pytest.mark.parametrize("kind", VehicleKind.values)
def test_every_row_is_whole(kind):
    rows = rows_for(kind)
    codes = [row.code for row in rows]
    assert len(codes) == len(set(codes))
    for row in rows:
        assert row.serves, row.code
        assert set(row.serves) <= set(Function.values), row.code
        assert set(row.hazards) <= set(HAZARDS), row.code
        assert not row.parent or codes.index(row.parent) < codes.index(row.code)
        assert row.code.partition(".")[0] == (row.parent or row.code)


def test_a_part_serves_its_own_functions_else_those_of_its_system():
    rows = {row.code: row for row in rows_for("lorry")}
    assert rows["BRK"].serves == ("STOP", "HOLD")
    assert rows["BRK.parking"].serves == ("HOLD",)
    assert rows["BRK.air"].serves == ("STOP", "HOLD")
    assert rows["BRK"].hazards == ("H8", "H9", "H10")


def test_steering_by_tracks_is_for_tracked_vehicles():
    assert "STE.tracked" in {row.code for row in rows_for("tracked")}
    assert "STE.tracked" not in {row.code for row in rows_for("lorry")}


def test_the_functions_that_gate_are_all_served_by_something():
    served = {function for kind in VehicleKind.values for row in rows_for(kind) for function in row.serves}
    assert served == set(Function.values)


def test_twenty_four_sheets_each_with_words():
    assert list(HAZARDS) == [f"H{n}" for n in range(1, 25)]
    assert {hazard.level for hazard in HAZARDS.values()} == {"WARNING", "CAUTION"}
    assert "manual" in ABOVE_ALL
    assert "local rules" in ABOVE_ALL


def test_sheets_come_once_and_warnings_first():
    found = hazards_for(["H14", "H8", "H14", "H9"])
    assert [hazard.code for hazard in found] == ["H8", "H9", "H14"]


def test_a_code_without_a_sheet_is_never_left_out():
    (unknown,) = hazards_for(["H99"])
    assert (unknown.code, unknown.level) == ("H99", "WARNING")
    assert "Ask the workshop lead" in unknown.warnings[0]
