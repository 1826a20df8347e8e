"""What judging again takes for each group of jobs that had the same rules."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from gatekeeper.rules.difference import read_record
from gatekeeper.rules.edits import Edit, edit_of
from gatekeeper.rules.job_ticket import TicketError
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.rules.recorded_ticket import ticket_in
from gatekeeper.trying.registers import ASKING
from gatekeeper.trying.rejudging import SECTIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from gatekeeper.history.replay import PastJob
    from gatekeeper.rules.difference import Record
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library

Group = tuple[str, str, str]
"""Workflow, customer, fingerprint."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The rules that would hold for a group of jobs, and what of them has to be judged."""

    rules: EffectiveRules | None  # None where no file defines the workflow or the customer
    edit: Edit = field(default_factory=Edit)
    sections: frozenset[str] = frozenset()  # whose checks must judge afresh
    is_ticket_refused: bool = False  # the jobs' own ticket does not go with the edited rules
    alone: EffectiveRules | None = None  # the rules with nothing to answer but what is new in them

    @property
    def compared_sections(self) -> frozenset[str]:
        """Sections of the limits for which a comparison may do."""
        return frozenset(limit.path[0] for limit in self.edit.limits.values())


ONE_BY_ONE = frozenset(
    {
        "required",
        "solid_density",
        "clear_density",
        "density_range",
        "tints",
        "dot",
        "tone_scale",
        "exposure",
    }
)
"""Sections whose limits are answered each by itself: one may be asked without the others."""


def group_of(job: PastJob) -> Group:
    """Return the group of a job."""
    return job.workflow, job.customer, job.fingerprint


def outlines(
    jobs: Iterable[PastJob],
    library: Library,
    text_of: Callable[[str], str],
    *,
    is_register_edited: bool,
) -> dict[Group, Outline]:
    """Return what is to be done for each group of jobs.

    Parameters
    ----------
    text_of : returns the recorded rules of a fingerprint, empty where there are none
    """
    found: dict[Group, Outline] = {}
    for group in dict.fromkeys(map(group_of, jobs)):
        text = text_of(group[2])
        record = read_record(text) if text else None
        outline = _outline(group, library, record)
        found[group] = _with_register(outline) if is_register_edited else outline
    return found


def _outline(group: Group, library: Library, record: Record | None) -> Outline:
    workflow, customer, _ = group
    tickets = ticket_in(record) if record else []
    is_refused = False
    try:
        rules = library.effective(workflow, customer, tickets)
    except UnknownNameError:
        return Outline(None)
    except TicketError:
        rules, is_refused = library.effective(workflow, customer), True
    if record is None:
        return Outline(rules, sections=SECTIONS, is_ticket_refused=is_refused)
    edit = edit_of(record, rules)
    return Outline(
        rules,
        edit,
        edit.sections & SECTIONS,
        is_ticket_refused=is_refused,
        alone=_alone(rules, edit.others),
    )


def _with_register(outline: Outline) -> Outline:
    """Return what is to be done where the register is another, too.

    What was recorded of a lot's age was reckoned by the old one, so the checks that ask it judge
    what would else be compared; and those that it concerns judge by all of their rules.
    """
    limits = outline.edit.limits
    asking = {rule: limit for rule, limit in limits.items() if limit.path[0] in ASKING}
    edit = replace(
        outline.edit,
        limits={rule: limit for rule, limit in limits.items() if rule not in asking},
        others=outline.edit.others | asking.keys(),
    )
    return replace(
        outline, edit=edit, sections=outline.sections | (edit.sections & SECTIONS), alone=None
    )


def _alone(rules: EffectiveRules, changed: frozenset[str]) -> EffectiveRules | None:
    """Return the rules with these limits alone to answer; None where that would not be the same."""
    asked = {limit.rule for limit in rules.limits if not limit.is_setting}
    if not changed or not all(
        rule in asked and rule.split(".", 1)[0] in ONE_BY_ONE for rule in changed
    ):
        return None
    kept = tuple(limit for limit in rules.limits if limit.is_setting or limit.rule in changed)
    return replace(rules, limits=kept)
