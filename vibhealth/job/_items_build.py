"""Questions of the rebuild itself: before it, stripping, building."""

from vibhealth.job._item import JobItem, Phase
from vibhealth.model import Hold

__all__ = ["BUILD_ITEMS"]

# Mistakes, symptoms and checks: common practice in rebuilding such units, no source.
BUILD_ITEMS: tuple[JobItem, ...] = (
    JobItem(
        id="as-found-recorded",
        step="as found",
        phase=Phase.AS_FOUND,
        question="Was the machine recorded warm and empty, and while stopping, before the rebuild?",
        why="Afterwards this can never be made up for: without it no improvement can be shown. "
        "Record only with the guard on, the sensor at the marked point.",
        no_means=Hold.MEASURE_AGAIN,
    ),
    JobItem(
        id="match-marked",
        step="drive shaft",
        phase=Phase.STRIP,
        question="Were shaft and coupling halves match-marked, and their screws sorted into "
        "labelled bags before loosening?",
        why="Screws of nearly matching threads start, then bind or strip; a shaft put back half a "
        "turn off runs out of balance. Check: marks on both halves, one bag per set of screws.",
    ),
    JobItem(
        id="oil-drained",
        step="oil",
        phase=Phase.STRIP,
        question="Was the old oil drained, measured, and looked at for metal and water?",
        why="Little oil, flakes or milky oil tell why the unit failed. Check: catch it in a clean "
        "pan, hold a magnet into it, write down the litres. Let it cool below 40 °C first.",
        needs="oil",
    ),
    JobItem(
        id="old-unit-kept",
        step="oil",
        phase=Phase.STRIP,
        question="Is the old unit kept and labelled, to be opened later?",
        why="Only the opened unit says which ring or element failed; unseen scrap teaches nothing. "
        "Check: tag with machine, date and hours on the unit.",
    ),
    JobItem(
        id="designation-read",
        step="bearings",
        phase=Phase.BUILD,
        question="Were bearing designation and clearance class read from the new parts themselves?",
        why="The wrong class or cage runs hot and fails months later, and defect frequencies would "
        "be computed for another bearing. Check: compare the ring face with card and parts list.",
    ),
    JobItem(
        id="storage-locked",
        step="storage",
        phase=Phase.BUILD,
        question="Was the new unit stored off vibrating floors, and carried with its shaft locked?",
        why="Standing on a shaking floor wears marks at the spacing of the elements. Check: ask "
        "the store; turn the shaft slowly by hand and feel for notches.",
    ),
    JobItem(
        id="seats-clean",
        step="seats",
        phase=Phase.BUILD,
        question="Are the seats clean, flat and free of burrs?",
        why="A burr or a crumb of paint cocks the unit and bends the ring: heat, axial motion. "
        "Check: straight edge and light; feeler gauge under the flange before any torque.",
    ),
    JobItem(
        id="housing-clean",
        step="seats",
        phase=Phase.BUILD,
        question="Are housing and sump flushed, with no grit and no old sealant inside?",
        why="One grain dents the raceway, and the dents spall. Check: flush, wipe with a white "
        "cloth, look at the cloth.",
    ),
    JobItem(
        id="ring-fit",
        step="seats",
        phase=Phase.BUILD,
        question="Do the rings fit their housings without play?",
        why="A loose outer ring creeps and frets the housing. Check: measure bore and ring, or "
        "draw a witness line across both and look at it at the next opening.",
    ),
    JobItem(
        id="seals-new",
        step="seals",
        phase=Phase.BUILD,
        question="Are all seals new, greased, and seated without cut or fold?",
        why="A cut seal shows in no recording until the oil is gone. Check: look all the way "
        "round, lips the right way, no spring out.",
    ),
    JobItem(
        id="lowered-gently",
        step="lowering",
        phase=Phase.BUILD,
        question="Was the unit lowered with lifting gear, without a blow, a drop or a hammer?",
        why="A blow prints the elements into the raceway; the bearing ticks from the first minute. "
        "If it was struck: reject the unit. Check: ask who was there.",
    ),
    JobItem(
        id="bolts-new",
        step="bolts",
        phase=Phase.BUILD,
        question="Are the bolts new where the card asks for it, of the right grade, with threads "
        "dry or oiled as the card says?",
        why="Used bolts clamp less at the same torque; oiled threads at a dry figure stretch the "
        "bolt. Check: head mark, lot label, ask what was put on the threads.",
        needs="torque",
    ),
    JobItem(
        id="bolts-staged",
        step="bolts",
        phase=Phase.BUILD,
        question="Were all bolts tightened in stages, in an alternating pattern, with a torque "
        "wrench in date?",
        why="One side first cocks the unit; a missed bolt lets the joint open once per turn. "
        "Check: the torque sheet, bolt by bolt. Firm footing, no pipe on the wrench.",
        needs="torque",
    ),
    JobItem(
        id="bolts-repeated",
        step="bolts",
        phase=Phase.BUILD,
        question="Was the last stage repeated until no bolt moved, and every head paint-marked?",
        why="The first bolts lose clamp while the others are tightened. Check: go round once more "
        "at full torque; draw a line across head and flange.",
        needs="torque",
    ),
    JobItem(
        id="sealant-thin",
        step="sealant",
        phase=Phase.BUILD,
        question="Was sealant put on thinly, with nothing pressed out on the inside?",
        why="A loose string of sealant blocks an oil way; the bearing starves later. Check: look "
        "through the filler opening with a lamp.",
    ),
    JobItem(
        id="weights-set",
        step="eccentric weights",
        phase=Phase.BUILD,
        question="Are the eccentric weights set to their marks, on both ends alike?",
        why="A wrong setting makes a wrong stroke or a tilted orbit, and a wrong bearing load. "
        "Check: marks against the setting sheet, count the weights.",
    ),
    JobItem(
        id="shaft-screws",
        step="drive shaft",
        phase=Phase.BUILD,
        question="Did every drive shaft screw go in to the end by hand, before it was torqued?",
        why="A mixed-up screw binds and feels tight; the coupling is then half clamped. Check: "
        "each by hand to the end, then torque, then paint.",
    ),
    JobItem(
        id="shaft-gap",
        step="drive shaft",
        phase=Phase.BUILD,
        question="Is the coupling seated, its element whole, and the gap to the drawing on top "
        "and below?",
        why="A stretched or angled shaft pushes the bearing along its axis. Check: gap with a "
        "feeler at top, bottom and both sides.",
    ),
    JobItem(
        id="motor-feet",
        step="motor",
        phase=Phase.BUILD,
        question="Is the motor where it was: feet flat, bolts tight, no crack in its mount?",
        why="A shifted motor forces the drive shaft. Check: old paint marks, feeler under each "
        "foot, look along the welds.",
    ),
    JobItem(
        id="guard-clearance",
        step="guard",
        phase=Phase.BUILD,
        question="Has the guard its clearance all the way round, also for the swing at start "
        "and stop?",
        why="Starting and stopping the body swings several times its working stroke. Check: gap "
        "at 4 to 8 places, smallest one against the card. Locked out.",
        needs="clearance",
    ),
    JobItem(
        id="guard-fitted",
        step="guard",
        phase=Phase.BUILD,
        question="Is the guard fitted, with all its bolts tight?",
        why="Never run without the guard. A loose one rattles and hides the bearing. Check: hand "
        "on the guard while the machine stands locked out.",
    ),
    JobItem(
        id="guard-painted",
        step="guard",
        phase=Phase.BUILD,
        question="Are fresh paint marks on the edges that could touch, and on the stops?",
        why="A touch that lasts a second at start or stop shows in no steady recording, but it "
        "scrapes the paint. Check: a thin coat, dry, on guard edges and stops.",
    ),
    JobItem(
        id="oil-filled",
        step="oil",
        phase=Phase.BUILD,
        question="Is the oil of the grade on the card, and exactly to level at standstill?",
        why="Too much foams and heats, too little starves: both are common, one grade for "
        "another is not seen at all. Check: label on the drum, level after settling, litres.",
        needs="oil",
    ),
    JobItem(
        id="breather-open",
        step="oil",
        phase=Phase.BUILD,
        question="Is the breather clean and open?",
        why="A blocked breather presses oil out at the seals. Check: take it out, blow through.",
    ),
    JobItem(
        id="plugs-tight",
        step="oil",
        phase=Phase.BUILD,
        question="Are drain and level plugs tight, with new washers, and wiped dry?",
        why="A weeping plug is found only on a dry surface. Check: torque, wipe, paper towel.",
    ),
)
