"""The digest as text and as HTML for a letter: the same facts in the same order, words first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.lines import WIDTH, table, wrapped
from gatekeeper.show.moments import day, moment
from gatekeeper.show.page import render
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import tzinfo

    from gatekeeper.control.digest import Digest, DueLine, RoomLine
    from gatekeeper.control.shares import Share

_REASONS = 5


def subject(digest: Digest) -> str:
    """Return the subject of the letter: the room, the day, and what is in it."""
    over = sum(line.days_left < 0 for line in digest.dues)
    parts = [
        f"{digest.held_in_all} held" if digest.held_in_all else "",
        counted(len(digest.news), "drift") if digest.news else "",
        counted(len(digest.doubts), "meter in doubt", "meters in doubt") if digest.doubts else "",
        f"{over} overdue" if over else "",
        f"{len(digest.dues) - over} due soon" if len(digest.dues) > over else "",
        counted(len(digest.alarms), "alarm") if digest.alarms else "",
    ]
    says = ", ".join(part for part in parts if part) or "all quiet"
    return f"{digest.room}, {day(digest.day)}: {says}"


def digest_text(digest: Digest, zone: tzinfo) -> str:
    """Return the digest as plain text, 78 columns wide."""
    lines = [subject(digest), ""]
    for title, body in _sections(digest, zone):
        lines += [title.upper(), *body, ""]
    return "\n".join(lines)


def digest_html(digest: Digest, zone: tzinfo) -> str:
    """Return the digest as one HTML page that loads nothing and runs nothing."""
    return render(
        "digest.html",
        digest=digest,
        subject=subject(digest),
        approved=approved_says(digest),
        first_pass=share_says(digest.first_pass),
        since=moment(digest.since, zone),
        reasons=digest.reasons[:_REASONS],
        held=[(line, moment(line.since, zone)) for line in digest.held],
        dues=[(line, day(line.last_day), due_says(line)) for line in digest.dues],
        others=[(line, room_says(line)) for line in digest.others],
    )


def share_says(share: Share) -> str:
    """Return a share with its bounds, in words."""
    if share.fraction is None:
        return "no jobs"
    return (
        f"{share.fraction:.0%} ({share.part} of {share.whole}; "
        f"in the long run {share.lower:.0%} to {share.upper:.0%})"
    )


def approved_says(digest: Digest) -> str:
    """Return how many jobs were approved, and how many of them do not conform."""
    says = f"{counted(digest.approved, 'job')} approved"
    return f"{says}, {digest.concessions} under a concession" if digest.concessions else says


def due_says(line: DueLine) -> str:
    """Return when something runs out, in words."""
    if line.days_left < 0:
        return f"OVER for {counted(-line.days_left, 'day')}"
    return "today" if line.days_left == 0 else f"in {counted(line.days_left, 'day')}"


def _sections(digest: Digest, zone: tzinfo) -> Iterator[tuple[str, list[str]]]:
    for title, says in (
        ("wrong with the room", digest.alarms),
        ("act today", digest.news),
        ("curves that wait to be taken into use", digest.candidates),
        ("keep an eye on", digest.watched),
    ):
        if says:
            yield title, _listed(says)
    for doubt in digest.doubts:
        jobs = _listed(doubt.jobs) if doubt.jobs else []
        yield "meter in doubt", [*wrapped(doubt.says, WIDTH), *jobs]
    if digest.held:
        yield f"{counted(digest.held_in_all, 'job')} held", list(_held(digest, zone))
    if digest.dues:
        yield "due", list(_dues(digest.dues))
    yield "jobs", list(_jobs(digest, zone))
    if digest.others:
        yield "other rooms", list(_others(digest.others))


def _listed(says: Sequence[str]) -> list[str]:
    return [line for entry in says for line in wrapped(entry, WIDTH, first="- ", rest="  ")]


def _held(digest: Digest, zone: tzinfo) -> Iterator[str]:
    for line in digest.held:
        who = ", ".join(part for part in (line.workflow, line.customer) if part)
        yield f"{line.job} ({who}), since {moment(line.since, zone)}"
        yield from wrapped(line.reason, WIDTH, first="  ", rest="  ")
    if digest.held_in_all > len(digest.held):
        yield f"and {counted(digest.held_in_all - len(digest.held), 'older one')}"


def _dues(dues: Sequence[DueLine]) -> Iterator[str]:
    yield from table(
        [(due_says(line), day(line.last_day), line.subject, line.says) for line in dues], WIDTH
    )


def _jobs(digest: Digest, zone: tzinfo) -> Iterator[str]:
    yield f"since {moment(digest.since, zone)}: {approved_says(digest)}"
    yield f"first-pass yield: {share_says(digest.first_pass)}"
    if digest.reasons:
        yield "what held jobs, the most frequent first:"
        rows = [(reason.rule, counted(reason.jobs, "job")) for reason in digest.reasons[:_REASONS]]
        yield from table(rows, WIDTH, indent="  ")


def _others(rooms: Sequence[RoomLine]) -> Iterator[str]:
    rows = [
        (line.room, f"{line.held} held", f"{line.approved} approved", room_says(line))
        for line in rooms
    ]
    yield from table(rows, WIDTH)


def room_says(line: RoomLine) -> str:
    """Return how many of a room's jobs came through at the first try, in words."""
    found = line.first_pass
    return f"{found.part} of {counted(found.whole, 'job')} at the first try"
