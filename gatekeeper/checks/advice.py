"""What a good plate-room hand does next, in the order of the bench, each step with its caution.

Source: common practice. Cautions name the usual ones and defer to the safety data sheet, local
codes and licensed practice.
"""

from __future__ import annotations

from gatekeeper.verdict import Step

_CLEANER = (
    "film cleaner and solvents: ventilate, wear gloves, keep flames and sparks away; "
    "the safety data sheet and local codes decide"
)
_LAMP = (
    "never look into UV lamps; shield eyes and skin, let interlocks work; "
    "lamp service is for licensed practice"
)
_BLADE = "blades: cut away from the hand, keep the guard on, retract before laying down"
_RESIN = (
    "uncured resin can sensitise the skin: gloves, no bare hands, wash with soap; "
    "the safety data sheet decides"
)

RIGHT_FOLDER = Step(
    5,
    "Drop the sheet into the folder of the workflow that it names, or correct that line; the "
    "other reasons come from rules that may not be this job's.",
)
CHECK_SHEET = Step(
    10,
    "Check what was typed against the meter's display and the job ticket, and correct the sheet.",
)
CHECK_TICKET = Step(10, "Correct the job ticket, the file of limits that lies beside the sheet.")
DROP_TICKET = Step(
    12,
    "Drop the corrected job ticket together with the sheet again; one that says only `job:` and "
    "the job's number asks nothing more than the rules do.",
)
FILL_IN = Step(11, "Fill in the missing lines of the sheet and drop it again under the same job.")
EXPORT_AGAIN = Step(12, "Export or type the readings again and drop the new file.")
ASK_NAME = Step(13, "Correct the name on the sheet, or ask the administrator to enter the new one.")
MOVE_SHEET = Step(14, "Drop the sheet into the folder of the right workflow, or correct the sheet.")
WAIT_SEPARATION = Step(15, "Measure the separations that are missing and drop their sheets.")

CHECK_UNIT = Step(16, "Write the unit behind each distance that is not in millimetres: 23.62 in.")
FIND_FILM = Step(
    17,
    "Find out by the job ticket and the meter's memory which of the two films these readings are "
    "of. The other one has not been measured.",
)
EMPTY_MEMORY = Step(
    18, "Empty the meter's memory after each export, so that no reading is exported twice."
)

CLEAN = Step(20, "Clean the negative on both sides with a lint-free cloth.", _CLEANER)
INSPECT = Step(
    25,
    "Lay the film on the light table and look for dirt, scratches and pinholes, emulsion side and "
    "reading direction, and the smallest type; write down what you find.",
)
OPAQUE = Step(
    26,
    "Spot out single pinholes in the solid on the base side, where the job allows it.",
    "opaquing fluid: ventilate, no flame; the safety data sheet decides",
)
ZERO_CLEAR = Step(30, "Zero the meter on clear film of the same lot.")
ZERO_HUNDRED = Step(31, "For the meter's own dot on a negative, zero it on the 100 % patch.")
ZERO_AIR = Step(32, "Zero the meter on air, nothing in its gate, and write `zeroed on,air`.")
METER_MODE = Step(33, "Set the meter's dot to what the workflow prints: negative or positive.")
MEASURE_AGAIN = Step(40, "Measure the negative again and drop the new sheet under the same job.")
READ_ALL = Step(
    41, "Read every patch that the workflow asks for: left, centre and right of the film."
)
TURN_FILM = Step(
    43,
    "Turn the film end for end and read the same patches again: a slope that stays on the same "
    "patches is in the film, one that changes sides is in the meter.",
)
REST_FILM = Step(
    35, "Let the film lie flat in the plate room until it has the room's temperature and humidity."
)
READ_MARKS = Step(
    39,
    "Read the distances between the marks that the workflow asks for, around and across, on the "
    "flat film.",
)
OTHER_METER = Step(42, "Measure with a meter whose calibration is in date.")

CALIBRATE = Step(
    50, "Send the meter for calibration and enter the certificate's date in register/meters.yaml."
)
CLEAN_HEAD = Step(55, "Run the printer's nozzle check and clean the head.", _CLEANER)
FRESH_FILM = Step(60, "Load film of an approved stock and lot that is in date.", _BLADE)
MORE_INK = Step(
    64, "Raise the ink load or choose the film's own ink setting, then print a test patch."
)
REPRINT = Step(65, "Print the negative again.")
WEDGE = Step(
    70, "Print and measure a wedge, build the new curve and print the negative through it."
)
SCALE = Step(
    71,
    "Check plate thickness, base, repeat and shrink against the job, and output it at that scale.",
)
SCREEN = Step(72, "Output the job again with a ruling and resolution that the workflow allows.")

STEP_TEST = Step(
    75,
    "Find the plate's doses with a step test on the plate, lamp and washout in use.",
    f"{_LAMP}; {_RESIN}",
)
TYPE_SIZE = Step(
    73, "Ask whoever made the artwork to enlarge the smallest type, and output the job again."
)
NO_PLATE = Step(
    80,
    "Expose no plate from this negative. If one was made, mark it and set it aside.",
    f"{_RESIN}; {_LAMP}",
)
SHOW_READINGS = Step(
    88, "Measure this negative no more, and show the lead every reading that the report lists."
)
CALL_LEAD = Step(90, "Call the plate-room lead: only a lead can release the job as it is.")
NEW_SLIP = Step(
    91,
    "The job stays as it was. For a slip that counts, a lead writes it anew, from an account that "
    "`leads` in site.yaml names.",
)
ADMINISTRATOR = Step(95, "Tell the administrator; the place of the rule is named with the finding.")

ALL_STEPS: tuple[Step, ...] = tuple(
    value for value in list(globals().values()) if isinstance(value, Step)
)
"""Every step, for the report and for the test that risky ones carry a caution."""
