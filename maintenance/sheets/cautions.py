"""Cautions that several sheets show before a test starts. WARNING may hurt people, CAUTION the vehicle."""

TURNING = "WARNING. Keep clear of fan, belts and handle. Out of gear, chocks in, nobody in front."
VAPOUR = "WARNING. Fuel vapour lies low. Sealed lamp, doors open, labelled can, fire point manned; never spray fuel."
LIVE_SPARK = (
    "WARNING. A shock makes you jump into moving parts. A magneto is live whenever it turns unless earthed."
)
HOT = "WARNING. Never open a hot pressurised cap. Manifolds burn for an hour after stopping."
GAS = "WARNING. Exhaust gas kills without smell. Outdoors or extraction on, meter on."
BATTERY = "WARNING. Acid, explosive gas, huge current. Goggles; earth lead off first, on last; look which pole is earthed."
LIFTED = "WARNING. A jack is not a support: level ground, chocks, rated stands, shake test, second person."
DUST = "WARNING. Treat brake dust as asbestos: no air line, no dry brush; wet rag, bag and label."
AIR = "WARNING. Draining air applies or releases brakes, by type: chock first. Spring units stay caged."
TRACK = (
    "WARNING. Track tension and pins: crush and flying steel. Chock the other side, one voice gives orders."
)
JET = "WARNING. A fine jet of oil goes through skin: hospital at once. Lower and prop, pressure to nought."
UNDER_LOAD = "WARNING. Nobody under or in the arc of a raised load. Prop it before you look."
ROAD = "WARNING. Private level ground, low speed, marshal, nobody ahead."
