"""A morning of our own invention, as the board and the page are told of it."""

from gatekeeper.show.room_facts import (
    Alarm,
    ApprovedJob,
    Due,
    HeldJob,
    RoomFacts,
    Waits,
    WorkflowFacts,
)

CAUTION = (
    "film cleaner and solvents: ventilate, wear gloves, keep flames and sparks away; "
    "the safety data sheet and local codes decide"
)


def held(job="1044", **changes):
    usual = {
        "workflow": "liquid-plate",
        "customer": "Pennyroyal Preserves",
        "since": "24 Nov 09:12",
        "why": "the solid is too thin: light gets through it",
        "further": 0,
        "do": "Clean the negative on both sides with a lint-free cloth.",
        "caution": CAUTION,
        "was_approved": False,
        "awaits": False,
        "ticket": f"20261124T091201Z-{job}",
        "href": f"jobs/liquid-plate/{job}.html",
    }
    return HeldJob(job, **(usual | changes))


def approved(job="1051", **changes):
    usual = {
        "workflow": "liquid-plate",
        "customer": "Pennyroyal Preserves",
        "at": "24 Nov 09:05",
        "concession": "",
        "ticket": f"20261124T090501Z-{job}",
        "href": f"jobs/liquid-plate/{job}.html",
    }
    return ApprovedJob(job, **(usual | changes))


MORNING = RoomFacts(
    room="Ferrybank Plate Room",
    is_at_work=True,
    alarms=(
        Alarm(
            "RULES BROKEN: workflows/stencil.yaml:8 “min: two” is not a number",
            "mend that line: until then its jobs wait",
        ),
    ),
    held=(
        held(),
        held(
            "2012",
            workflow="sheet-plate",
            customer="Bramblewick Bakeries",
            since="24 Nov 08:58",
            why="the 5 % tint reads too full (the meter's own dot)",
            further=2,
            was_approved=True,
        ),
        held(
            "1070",
            since="24 Nov 08:51",
            why="waiting for 1 more separation of 2; measured: black",
            do="Measure the separations that are missing and drop their sheets.",
            caution="",
            awaits=True,
        ),
        *(
            held(
                str(job),
                customer="Quillmark Cartons",
                since="24 Nov 08:40",
                why="the meter was calibrated on 2025-08-20, 460 days before 2026-11-23, when it "
                "was measured",
                do="Measure with a meter whose calibration is in date.",
                caution="",
            )
            for job in range(1059, 1064)
        ),
    ),
    held_in_all=8,
    waits=(
        Waits("3030.csv", "stencil", "waits for its rules: workflows/stencil.yaml:8"),
        Waits("1080.svg", "liquid-plate", "waits for its sheet of readings"),
        Waits("1081.csv", "liquid-plate", "still arriving: a program has it open for writing"),
    ),
    approved=(
        approved("1071", concession="by the lead: proof for the customer only"),
        *(approved(str(job)) for job in range(1048, 1042, -1)),
    ),
    approved_in_all=412,
    dues=(
        Due(
            "meter T-02",
            "calibration",
            "20 Aug",
            is_over=True,
            workflows=("liquid-plate", "stencil"),
        ),
        Due("film lot M5-0260", "date on the label", "28 Nov", is_over=False),
    ),
    news=(
        (
            "mid-tone on P1 (matte-5mil, liquid-plate) has crept up 1.4 points in 9 days; expect "
            "holds from Thursday 26 November; print a wedge"
        ),
    ),
    workflows=(
        WorkflowFacts(
            "liquid-plate", "Liquid photopolymer, corrugated", 300, 7, "workflows/liquid-plate.html"
        ),
        WorkflowFacts("sheet-plate", "Sheet photopolymer", 112, 1, "workflows/sheet-plate.html"),
        WorkflowFacts("stencil", "Screen stencils", 0, 0, "workflows/stencil.html"),
    ),
)

QUIET = RoomFacts(room="Ferrybank Plate Room", is_at_work=True, approved_in_all=0)
