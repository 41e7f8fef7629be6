"""Questions of the run: before the start, at the start, and the later checks."""

from vibhealth.job._item import JobItem, Phase
from vibhealth.model import Hold, Moment

__all__ = ["RUN_ITEMS"]

# Mistakes, symptoms and checks: common practice in rebuilding such units, no source.
RUN_ITEMS: tuple[JobItem, ...] = (
    JobItem(
        id="isolators-level",
        step="isolators",
        phase=Phase.PRE_START,
        question="Are all isolators whole, and of equal height within about 5 mm?",
        why="A broken spring or one low corner tilts the motion. Check: rule at all corners, look "
        "for cracks. Keep fingers out from under the body.",
    ),
    JobItem(
        id="stop-released",
        step="locating stop",
        phase=Phase.PRE_START,
        question="Is the locating stop lowered or released, and its gap seen?",
        why="A stop left up is struck once per turn with the whole mass. Check: see daylight, or "
        "feel the gap with a gauge.",
    ),
    JobItem(
        id="braces-out",
        step="shipping braces",
        phase=Phase.PRE_START,
        question="Are all shipping braces out, counted, and as many as went in?",
        why="One brace left in bridges the isolators and shakes the floor. Check: count them on "
        "the ground, write down who took them out.",
    ),
    JobItem(
        id="turned-by-hand",
        step="rotation",
        phase=Phase.PRE_START,
        question="Was the shaft turned a full turn by hand, locked out, smooth and without touch?",
        why="What scrapes by hand breaks under power. Check: slowly, both ways, listen.",
    ),
    JobItem(
        id="machine-empty",
        step="first start",
        phase=Phase.PRE_START,
        question="Is the machine empty, inside and on top?",
        why="Material makes the start long and the swing large, and hides the bearing. Check: look "
        "inside, feed locked.",
    ),
    JobItem(
        id="drive-set",
        step="first start",
        phase=Phase.PRE_START,
        question="Does the drive's setting (frequency, ramp) agree with the plate?",
        why="A slow ramp dwells where the isolators swing most; a wrong frequency gives a wrong "
        "load. Check: drive display against plate; a direct drive has nothing to set: yes.",
    ),
    JobItem(
        id="guard-on-at-start",
        step="first start",
        phase=Phase.PRE_START,
        question="Is the guard on, and everybody clear of the machine?",
        why="The body swings much more while starting and stopping than at speed. Check: walk "
        "round once. No guard, no start.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="someone-at-the-stop",
        step="first start",
        phase=Phase.PRE_START,
        question="Does one person stand at the stop button, and nobody else near?",
        why="A knock has to be stopped in seconds. Check: name him or her; test the stop first.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="rotation-right",
        step="rotation",
        phase=Phase.PRE_START,
        question="Did a short bump of the motor turn it the way of the arrow?",
        why="The wrong way, the oil pick-up may fail; one sensor cannot see it. If no: lock out, a "
        "qualified electrician changes the rotation.",
    ),
    JobItem(
        id="no-knock",
        step="first start",
        phase=Phase.START,
        question="Did it start and run without any knocking of metal on metal?",
        why="Knocking means something is loose, or sits on a stop. If no: press stop, lock out.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-contact",
        step="first start",
        phase=Phase.START,
        question="Does nothing touch the guard, a stop or a neighbour, at speed and while starting?",
        why="A touch wears through or breaks off. If no: press stop, lock out, look for scraped "
        "paint.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-smoke",
        step="first start",
        phase=Phase.START,
        question="Is there no smoke, and no smell of hot oil or rubber?",
        why="Both come before fire or a seized bearing. If no: press stop, lock out, let it cool.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-oil-running",
        step="seals",
        phase=Phase.START,
        question="Is there no oil running anywhere?",
        why="Running oil is a slip and fire hazard, and soon a dry bearing. If no: press stop, "
        "lock out.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="full-speed",
        step="first start",
        phase=Phase.START,
        question="Did it reach full speed, with the right stroke, without walking or tripping?",
        why="A wrong stroke or a walking machine has something left in, or set wrong. If no: press "
        "stop, lock out. Check: stroke sticker, feet, motor current.",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-leak-10-min",
        step="seals",
        phase=Phase.START,
        question="After ten minutes: is it dry at every seal and plug?",
        why="A cut seal shows in no recording. Check from outside the guard by eye; with a paper "
        "towel only when stopped and locked out.",
        needs="temperature",
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-leak-1h",
        step="seals",
        phase=Phase.HOUR_1,
        question="After 1 hour, stopped and locked out: dry at every seal and plug, level right?",
        why="Warm oil finds the gap that cold oil did not. Check: paper towel, level after "
        "settling.",
        moment=Moment.HOUR_1,
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-witness-marks",
        step="guard",
        phase=Phase.HOUR_1,
        question="After run-up and coast-down, locked out: is the paint on guard and stops whole?",
        why="Contact only while starting or stopping is seen in the paint first. Check: every "
        "painted edge; bright metal is a no.",
        moment=Moment.HOUR_1,
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="guard-still-tight",
        step="guard",
        phase=Phase.HOUR_1,
        question="Locked out: is the guard still tight, and no bolt's paint line broken?",
        why="What loosens in the first hour is off in a week. Check: hand on the guard, look at "
        "every paint line.",
        moment=Moment.HOUR_1,
    ),
    JobItem(
        id="no-new-noise",
        step="first start",
        phase=Phase.HOUR_1,
        question="Does it sound as it should, with no new rattle, squeal or rumble?",
        why="The ear finds what was not looked for. If no: write down in plain words what it "
        "sounds like, where, and when (job.noise).",
        moment=Moment.HOUR_1,
    ),
    JobItem(
        id="no-leak-8h",
        step="seals",
        phase=Phase.HOUR_8,
        question="After 8 hours, locked out: dry, level right, paint lines whole?",
        why="Forgotten at shift change more often than any other check. Look and paper towel.",
        moment=Moment.HOUR_8,
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-leak-24h",
        step="seals",
        phase=Phase.HOUR_24,
        question="After 24 hours, locked out: dry, level right, paint lines whole, magnet plug "
        "clean?",
        why="Flakes on the magnet after a day are the first word of a bad start.",
        moment=Moment.HOUR_24,
        no_means=Hold.STOP_NOW,
    ),
    JobItem(
        id="no-leak-7d",
        step="seals",
        phase=Phase.DAY_7,
        question="After 7 days, locked out: dry, level right, all bolts as marked?",
        why="From here on the machine's own recordings of 24 h and 7 d are its reference.",
        moment=Moment.DAY_7,
        no_means=Hold.STOP_NOW,
    ),
)
