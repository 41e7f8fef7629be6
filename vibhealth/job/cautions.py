"""What to heed before each dangerous step; site rules and licensed trades come first."""

from vibhealth.job._item import Phase

__all__ = ["CAUTIONS", "GENERAL_CAUTIONS"]

# Common practice, no source; local law, site rules and the maker's manual decide.
GENERAL_CAUTIONS: tuple[str, ...] = (
    "LOCK OUT, TAG, TRY before touching anything: electric, springs, raised mass, hot oil.",
    "Site rules, local law, licensed trades and the maker's manual come before this list.",
    "Never run the machine without its guard. Never record with the guard off.",
    "A PASS means that these measurements found no fault. It certifies no safety.",
)

CAUTIONS: dict[Phase, tuple[str, ...]] = {
    Phase.AS_FOUND: (
        (
            "Mount sensor and cable only when locked out; tether a magnet; keep the cable where "
            "nothing can catch it."
        ),
        "Do not run the machine for the sake of a recording if it is not safe to run.",
    ),
    Phase.STRIP: (
        "Lock out, tag, try. Release stored energy; support the body before anything is loosened.",
        "Oil may be hot: let it cool below about 40 °C; gloves, eye protection; clean up spills.",
        "The unit is heavy: rated lifting gear, nobody below it.",
    ),
    Phase.BUILD: (
        "Fingers out of the seat while the unit is lowered; rated lifting gear, nobody below it.",
        (
            "Torque wrench: firm footing, no pipe on the handle, stand so that a slip cannot throw "
            "you."
        ),
        "Sealant and solvent: fresh air and gloves.",
    ),
    Phase.PRE_START: (
        "Still locked out until the last question about stops, braces and turning by hand.",
        "Electrical work (rotation, cables, drive) only by a qualified electrician.",
    ),
    Phase.START: (
        (
            "One person at the stop, everybody else clear: the body swings much more while starting "
            "and stopping than at speed."
        ),
        (
            "STOP AT ONCE and lock out on: knocking, anything touching, smoke, smell of hot oil or "
            "rubber, oil running, a walking machine, a tripping motor, a hot housing."
        ),
        "Hearing and eye protection. Never reach into a machine that coasts.",
    ),
    Phase.HOUR_1: ("Stop, lock out, tag, try before looking at seals, bolts and paint.",),
    Phase.HOUR_8: ("Stop, lock out, tag, try before looking at seals, bolts and paint.",),
    Phase.HOUR_24: ("Stop, lock out, tag, try before looking at seals, bolts and paint.",),
    Phase.DAY_7: ("Stop, lock out, tag, try before looking at seals, bolts and paint.",),
}
