"""The page: HTML for any browser, from facts alone; equal facts give equal bytes.

Nothing is fetched, every text is escaped, and no script is needed; the policy in each page allows
its own style sheet, the one line that takes the room's page anew, and nothing else, so that even a
text that got through could do nothing.
"""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from gatekeeper.show.charts import control_svg, curve_says, curve_svg, signals
from gatekeeper.show.drawn_scale import scale_svg
from gatekeeper.show.facts import details_of
from gatekeeper.show.palette import DARK, PAPER
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from datetime import tzinfo

    from gatekeeper.control.chart_facts import ChartFacts
    from gatekeeper.control.tone_facts import ToneFacts
    from gatekeeper.show.earlier import Course, Judgement
    from gatekeeper.show.facts import ReportFacts
    from gatekeeper.show.limits import Edge, Figures
    from gatekeeper.show.room_facts import ApprovedJob, Due, HeldJob, RoomFacts, WorkflowFacts
    from gatekeeper.show.shared_rooms import SharedRooms

INDEX = "index.html"
WALL = "wall.html"
"""The room's page in large type: a file of its own, so that it stays large without script too."""

STILL = "still.html"
"""The room's page that stays as it is: some readers need time (WCAG 2.2, criterion 2.2.1)."""

ROOMS = "rooms.html"
"""All rooms that share one history; only where several do."""

REFRESH_S = 20
"""A browser takes the page anew so often (s)."""

RENEWAL_S = 300
"""The page is written anew at least so often (s), so that its age tells of a silent gate."""

_RELOAD = f"setTimeout(function(){{location.reload()}},{1000 * REFRESH_S})"


@dataclass(frozen=True, slots=True)
class JobPage:
    """What the page of a job says; paths count from the folder of pages."""

    room: str
    workflow: str
    workflow_href: str
    report: ReportFacts
    judged: tuple[Judgement, ...] = ()
    courses: tuple[Course, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkflowPage:
    """What the page of a workflow says."""

    room: str
    facts: WorkflowFacts
    written: str
    zone: tzinfo
    held: tuple[HeldJob, ...] = ()
    approved: tuple[ApprovedJob, ...] = ()
    dues: tuple[Due, ...] = ()
    limits: tuple[tuple[str, str, str], ...] = ()  # rule, what it asks, file and line
    charts: tuple[ChartFacts, ...] = ()
    curves: tuple[ToneFacts, ...] = ()


def index_page(facts: RoomFacts, *, written: str, name: str = INDEX) -> str:
    """Return the page of the room.

    Parameters
    ----------
    written : the moment, for people
    name : which of its three files: INDEX, WALL or STILL
    """
    return _page(
        "index.html",
        facts=facts,
        written=written,
        refresh_s=0 if name == STILL else REFRESH_S,
        name=name,
        is_wall=name == WALL,
        renewal_min=RENEWAL_S // 60,
    )


def rooms_page(facts: SharedRooms, *, written: str) -> str:
    """Return the page of the rooms that share one history, as they were when it was asked.

    Parameters
    ----------
    written : the moment, for people
    """
    return _page("rooms.html", facts=facts, written=written, renewal_min=RENEWAL_S // 60)


def job_page(page: JobPage) -> str:
    """Return the page of a job: its report, with readings drawn against their limits."""
    report = page.report
    return _page(
        "job.html",
        up="../../",
        room=page.room,
        workflow=page.workflow,
        workflow_href=page.workflow_href,
        report=report,
        reasons=[
            (reason, _scale(reason.edge, reason.figures, reason.says)) for reason in report.reasons
        ],
        passed=[
            (group, [_small(item.edge, item.figures, item.rule) for item in group.compared])
            for group in report.passed
        ],
        judged=page.judged,
        courses=page.courses,
    )


def workflow_page(page: WorkflowPage) -> str:
    """Return the page of a workflow: its jobs, its limits, and how its printers hold."""
    return _page(
        "workflow.html",
        up="../",
        room=page.room,
        facts=page.facts,
        written=page.written,
        held=[job for job in page.held if not job.awaits],
        incomplete=[job for job in page.held if job.awaits],
        approved=page.approved,
        dues=page.dues,
        limits=page.limits,
        charts=[
            {
                "title": chart.title,
                "says": chart.says,
                "drawn": Markup(control_svg(chart, page.zone)),  # noqa: S704 -- escapes its texts
                "signals": signals(chart, page.zone),
            }
            for chart in page.charts
        ],
        curves=[
            {
                "title": _curve_title(curve),
                "says": curve_says(curve),
                "drawn": Markup(curve_svg(curve)),  # noqa: S704 -- escapes its texts
            }
            for curve in page.curves
        ],
    )


def _curve_title(curve: ToneFacts) -> str:
    setting = f", for {curve.setting}" if curve.setting else ""
    return f"{curve.title}{setting} ({curve.state})"


def _scale(edge: Edge | None, figures: Figures, says: str) -> Markup:
    drawn = scale_svg(edge, figures, says) if edge else ""
    return Markup(drawn)  # noqa: S704 -- escapes its texts


def _small(edge: Edge | None, figures: Figures, says: str) -> Markup:
    drawn = scale_svg(edge, figures, says, has_numbers=False) if edge else ""
    return Markup(drawn)  # noqa: S704 -- escapes its texts


def _page(template: str, **facts: object) -> str:
    css = _style()
    usual = {
        "css": css,
        "css_hash": _digest(css),
        "reload": Markup(_RELOAD),  # noqa: S704 -- ours
        "reload_hash": _digest(_RELOAD),
        "names": {"index": INDEX, "wall": WALL, "still": STILL},
        "refresh_s": 0,
    }
    return render(template, **(usual | facts))


def render(template: str, **facts: object) -> str:
    """Return a template filled in: every text escaped, a name that is not given an error."""
    return _environment().get_template(template).render(facts)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("gatekeeper.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
    )
    environment.filters |= {"nice": nice, "counted": _counted, "details": details_of}
    return environment


@cache
def _style() -> Markup:
    css = _environment().get_template("page.css").render(dark=DARK, paper=PAPER)
    return Markup(css)  # noqa: S704 -- ours


def _digest(text: str) -> str:
    """Return the digest by which the policy allows a style sheet or script of ours."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


def nice(text: str) -> str:
    """Return text with the sign that plain reports spell out."""
    return text.replace("+/-", "±")


def _counted(number: int, noun: str) -> str:
    return counted(number, noun)
