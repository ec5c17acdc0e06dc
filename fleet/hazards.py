"""Cautions shown before a job is opened: what can hurt people, what can hurt the vehicle, what is useful.

The three levels are those of technical manuals: WARNING, CAUTION, NOTE. The texts are short reminders of
*common practice* for somebody trained; the vehicle's own manual, local rules and licensed practice stand
above every one of them (`ABOVE_ALL`). Asbestos: HSE guidance on friction materials. Divided rims: published
wheel-safety guidance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

ABOVE_ALL = (
    "The vehicle's own manual, local rules and licensed practice come before this sheet. "
    "If they differ, or you are not sure, stop and ask the workshop lead."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """One caution: a short title, and lines for each level. `second_person`: nobody does such work alone."""

    code: str
    title: str
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    second_person: bool = False

    @property
    def level(self) -> str:
        """The worst level that the sheet holds."""
        return "WARNING" if self.warnings else "CAUTION" if self.cautions else "NOTE"


_ALL = (
    Hazard(
        code="H1", title="An engine that can turn",
        warnings=(
            "Turned by hand it can kick back or fire. Ignition or fuel off, isolator out and the key in your pocket.",
            "Gear lever in neutral, wheels chocked, hands and sleeves clear of fan and belts.",
        ),
    ),
    Hazard(
        code="H2", title="Springs, flywheels, clutches, torsion bars",
        warnings=("They hold energy when they look at rest. Let it out in the order that the manual gives, and stand to one side.",),
    ),
    Hazard(
        code="H3", title="Fuel and its vapour", second_person=True,
        warnings=(
            "Vapour sinks and stays in hulls and pits. Air the place through; sealed lamps only; no flame, no sparks.",
            "Drain into a labelled can. Somebody stands by with an extinguisher.",
        ),
    ),
    Hazard(
        code="H4", title="Live ignition",
        warnings=("A shock throws your hand into moving parts. A magneto is live whenever it turns, unless it is earthed.",),
    ),
    Hazard(
        code="H5", title="Heat and pressure",
        warnings=("Never open a pressurised cap hot. A manifold burns for an hour after stopping; wait.",),
    ),
    Hazard(
        code="H6", title="Exhaust gas", second_person=True,
        warnings=("It kills without a smell. Doors open, extraction on, gas meter on; nobody alone in a hull with an engine running.",),
    ),
    Hazard(
        code="H7", title="Batteries",
        warnings=(
            "Acid, explosive gas and a very large current. Goggles on, rings and watches off.",
            "Earth lead off first and on last. Look which pole is earthed: on some vehicles it is the positive.",
        ),
    ),
    Hazard(
        code="H8", title="Under or beside a raised vehicle", second_person=True,
        warnings=(
            "A jack lifts; it does not hold. Level hard ground, wheels chocked, rated stands under strong points.",
            "Push it hard on its stands before you go under, and have a second person there.",
        ),
    ),
    Hazard(
        code="H9", title="Dust of linings, gaskets, lagging",
        warnings=("Treat it as asbestos. No air line, no dry brush: wet rag or a sealed vacuum cleaner, then bag, seal and label the waste.",),
    ),
    Hazard(
        code="H10", title="Air and vacuum brakes",
        warnings=("Losing air may put the brakes on or let them off; it depends on the type. Chock first. Cage spring units before touching them.",),
    ),
    Hazard(
        code="H11", title="Divided and lock-ring wheels",
        warnings=(
            "These rims can burst. Valve core out and a wire through, on both of a pair, before any nut is touched.",
            "Never undo the nuts that hold the rim halves while there is air. Inflate in a cage, on a long hose, standing clear.",
        ),
    ),
    Hazard(
        code="H12", title="Tracks",
        warnings=(
            "Tension crushes and pins fly. Chock the other side; one person gives the orders.",
            "Open a grease adjuster slowly, with your face away from it.",
        ),
    ),
    Hazard(
        code="H13", title="Hull, tank, boiler or pit", second_person=True,
        warnings=("A confined space: test the air, keep one person outside and the way out open, take in no solvent.",),
    ),
    Hazard(
        code="H14", title="Old body, glass and timber",
        cautions=("Weak with age. Spread your weight, and lift glass by its frame.",),
        notes=("The finish may be original: look before you lean, clean or mask.",),
    ),
    Hazard(
        code="H15", title="Hydraulic pressure",
        warnings=(
            "A jet too fine to see goes through skin; that is a hospital case at once, however small it looks.",
            "Lower and prop the load, bring pressure to nothing, and never feel for a leak with a hand.",
        ),
    ),
    Hazard(
        code="H16", title="Crane, winch, ladder, turret",
        warnings=("Nobody inside the arc or in line with the rope. Locked and pinned unless a signed lifting plan says otherwise.",),
    ),
    Hazard(
        code="H17", title="A made-safe weapon",
        warnings=("Certificate to hand. Change nothing that makes it safe, and do not work its action in front of the public.",),
    ),
    Hazard(
        code="H18", title="Fire bottles and old extinguishers",
        warnings=(
            "A discharge in a crew space suffocates. Pin the system before you go in; never try one out.",
            "Very old fillings are poisonous, or become so in a flame. A specialist takes them away.",
        ),
    ),
    Hazard(
        code="H19", title="Luminous dials",
        warnings=("Take it for radium. Do not open, scrape or polish. Gloves, bag, label, and ask the radiation adviser.",),
    ),
    Hazard(
        code="H20", title="Boiler and steam",
        warnings=("Steam and scalding water. Cold and vented before opening; both feeds proved before steaming; the examiner's certificate on show.",),
    ),
    Hazard(
        code="H21", title="Old paint and seat stuffing",
        warnings=("Lead in the paint, dust and spores in the stuffing. No dry sanding. The curator is asked first.",),
    ),
    Hazard(
        code="H22", title="Towing and recovery",
        warnings=(
            "Rated gear only; nobody nearer than one and a half times the rope's length.",
            "The brakes of a dead vehicle may not work: use a rigid bar.",
        ),
    ),
    Hazard(
        code="H23", title="Welding and grinding",
        warnings=("A hot-work permit, battery off, and a fire watch for an hour after the last spark.",),
    ),
    Hazard(
        code="H24", title="Paraffin, antifreeze, brake fluid, old oil",
        cautions=("Bad for skin, paint and drains. Spill kit to hand, cans labelled.",),
    ),
)  # fmt: skip
HAZARDS: Mapping[str, Hazard] = MappingProxyType({hazard.code: hazard for hazard in _ALL})


def hazards_for(codes: Iterable[str]) -> list[Hazard]:
    """The sheets for these codes: once each, warnings first, in the order asked.

    A code without a sheet is shown as a warning to ask, never left out.
    """
    found = [HAZARDS.get(code) or _no_sheet(code) for code in dict.fromkeys(codes)]
    ranked = ("WARNING", "CAUTION", "NOTE")
    return sorted(found, key=lambda hazard: ranked.index(hazard.level))


def _no_sheet(code: str) -> Hazard:
    return Hazard(
        code=code,
        title=code,
        warnings=("No sheet is on file for this one. Ask the workshop lead before you begin.",),
    )
