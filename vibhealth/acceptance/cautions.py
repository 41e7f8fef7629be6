"""Cautions that go with every report.

They defer to site rules, local codes and licensed trades. Lock out and tag is
required, for example, by 29 CFR 1910.147 and guards by 29 CFR 1910.212 and
1910.219 (United States; section numbers from memory); other countries have
their own. The rest is common practice, no source.
"""

__all__ = ["CAUTIONS"]

CAUTIONS: tuple[str, ...] = (
    (
        "Lock out, tag, and try the start button before you touch anything. Release stored "
        "energy: raised or spring-loaded mass, hot oil under pressure, anything that can still "
        "turn."
    ),
    (
        "Never run the machine, and never record, with the guard off. Mount and remove the sensor"
        " only while the machine is locked out; tie the cable down and tether a magnet mount."
    ),
    (
        "Stand clear at the first start, with one person at the stop. The machine swings much "
        "wider while it starts and stops than at speed. Never reach into a machine that is "
        "coasting down."
    ),
    (
        "The bearing unit is heavy: rated lifting gear, nobody under the load, fingers out of the"
        " seat."
    ),
    (
        "Oil may be hot: let it cool, wear gloves and eye protection, catch it, clean up what "
        "spills."
    ),
    (
        "Wear hearing and eye protection. Keep hands away from hot surfaces and from the gaps at "
        "isolators and braces."
    ),
    (
        "Tighten bolts from a firm stance, without a bar on the torque wrench, so that a slipping"
        " socket cannot throw you."
    ),
    "Cables, phases and drives are work for a licensed electrician only.",
    (
        "PASS means that these measurements found no fault. It does not certify that the machine "
        "is safe, and it replaces no inspection."
    ),
    (
        "Site rules, local codes, the maker's manual and licensed trades come before anything "
        "printed here. Where they differ, follow them."
    ),
)
