"""Curves of a site at work: built from files, listed with their state, taken into use.

A curve is in use when the register says so: its line there carries name, day and table, so that a
backup of the administrator's files is a backup of the curves in use.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gatekeeper.care.curve_store import Acceptance, CurveStore
from gatekeeper.care.register_desk import RegisterDesk
from gatekeeper.care.wedges import collect_curves
from gatekeeper.control.curve import build, together
from gatekeeper.control.wedge import Room, Wedge, read_wedge
from gatekeeper.errors import JobError, UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.history import EventKind, HistoryAwayError
from gatekeeper.register.editing import with_item
from gatekeeper.register.made_for import of_entry
from gatekeeper.room import read_book
from gatekeeper.sheet import SheetKind
from gatekeeper.trying.trial import read_files
from gatekeeper.wording import fold, plain, quoted
from gatekeeper.workshop import history_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from gatekeeper.case import JobSheet
    from gatekeeper.clock import Clock
    from gatekeeper.control.curve import BuiltCurve
    from gatekeeper.register.editing import Value
    from gatekeeper.register.register import Register
    from gatekeeper.site import Site
    from gatekeeper.verdict import Finding

IN_USE = "in use"
FORMER = "former"
CANDIDATE = "candidate"
SUPERSEDED = "superseded"


@dataclass(frozen=True, slots=True)
class KnownCurve:
    """A curve and where it stands."""

    curve: BuiltCurve
    state: str
    accepted: Acceptance | None


class CurveDesk:
    """The curves of one site."""

    def __init__(self, site: Site, clock: Clock, disk: Disk | None = None) -> None:
        self.site = site
        self.clock = clock
        self.disk = disk or Disk()
        self.store = CurveStore(site.state, self.disk)

    @property
    def today(self) -> date:
        """The day in the site's own zone."""
        return self.clock.now().astimezone(self.site.time_zone).date()

    def known(self) -> tuple[KnownCurve, ...]:
        """Return every curve with its state, those of filed wedges included."""
        book = read_book(self.site)
        collect_curves(self.site, book, self.store, self.disk)
        curves = self.store.curves()
        return tuple(
            KnownCurve(
                curve,
                _state(curve, curves, book.register, self.today),
                self.store.acceptance(curve.name),
            )
            for curve in curves
        )

    def build(self, files: Sequence[Path], workflow: str) -> tuple[BuiltCurve, list[Finding]]:
        """Build a curve from wedge sheets, keep it, and return it with what was remarked.

        Raises
        ------
        JobError : a sheet cannot be used; says why, each reason on a line
        UsageError : the sheets do not belong together
        """
        book = read_book(self.site)
        room = Room(book.library, book.register, self.clock.now(), self.site.time_zone)
        sheets = read_files(self.site, files)
        wedges: list[Wedge] = []
        findings: list[Finding] = []
        for sheet in sheets:
            wedge, found = _wedge(sheet, room, workflow)
            wedges.append(wedge)
            findings += found
        try:
            one = together(wedges)
        except ValueError as error:
            what, ours, theirs = error.args
            raise UsageError(
                f"the wedges differ in {what}: {ours} and {theirs}",
                do="build a curve from wedges of one printer, film, workflow, resolution and "
                "ruling, all printed through the same curve",
            ) from error
        curve, fit = build(one)
        if curve is None:
            raise _refusal(", ".join(plain(sheet.name) for sheet in sheets), fit)
        sources = tuple(sorted(sheet.sha256 for sheet in sheets))
        return self.store.put(replace(curve, sources=sources)), [*findings, *fit]

    def find(self, words: str) -> BuiltCurve:
        """Return the curve that these words name."""
        collect_curves(self.site, read_book(self.site), self.store, self.disk)
        return self.store.find(words)

    def accept(self, words: str, by: str) -> tuple[BuiltCurve, str]:
        """Take a curve into use from today, and return it with the register file that says so.

        Raises
        ------
        UsageError : no such curve, or it is in use already
        """
        curve = self.find(words)
        desk = RegisterDesk(self.site.root, self.disk)
        if any(
            entry.name and fold(entry.name) == fold(curve.name) for entry in desk.register.curves
        ):
            raise UsageError(f"the curve {quoted(curve.name)} is in the register already")
        # The minute first: without its line in the register it means nothing yet.
        self.store.accept(curve.name, Acceptance(self.clock.now(), by))
        fields = _register_fields(curve, self.today)
        file = desk.edit("curves", lambda text: with_item(text, "curves", fields))
        self._note(curve, by)
        return curve, file

    def _note(self, curve: BuiltCurve, by: str) -> None:
        document = {"curve": curve.name, "by": by, "steps": list(curve.steps)}
        history = history_of(self.site, self.clock)
        try:
            history.note(EventKind.REGISTER, curve.name, document)
        except HistoryAwayError:
            pass  # the register is the record; the audit chain is told of edits by the daemon too
        finally:
            history.close()


def _wedge(sheet: JobSheet, room: Room, workflow: str) -> tuple[Wedge, tuple[Finding, ...]]:
    if sheet.sheet is None:
        reason = sheet.unreadable.says if sheet.unreadable else "nobody knows why"
        raise JobError(f"{plain(sheet.name)} cannot be read: {reason}")
    if sheet.sheet.problems:
        problem = sheet.sheet.problems[0]
        raise JobError(
            f"{plain(sheet.name)}: {problem.says}", where=str(problem.trace), do=problem.do
        )
    if sheet.sheet.kind is not SheetKind.WEDGE:
        raise JobError(
            f"{plain(sheet.name)} is no wedge but the sheet of a {sheet.sheet.kind.value}",
            do="write `sheet,wedge` into its head if it is one",
        )
    wedge, findings = read_wedge(sheet.sheet.negatives[0], room, workflow)
    if wedge is None:
        raise _refusal(plain(sheet.name), findings)
    return wedge, findings


def _refusal(name: str, findings: Sequence[Finding]) -> JobError:
    holding = [finding for finding in findings if finding.do]
    says = "; ".join(finding.says for finding in holding)
    return JobError(f"{name}: {says}", do=holding[0].do[0].says if holding else "")


def _state(curve: BuiltCurve, curves: Sequence[BuiltCurve], register: Register, today: date) -> str:
    names = {fold(entry.name): entry for entry in register.curves if entry.name}
    entry = names.get(fold(curve.name))
    if entry:
        return IN_USE if register.curve(of_entry(entry), today) is entry else FORMER
    newer = [
        other
        for other in curves
        if other.is_for_the_same(curve) and (other.made, other.name) > (curve.made, curve.name)
    ]
    return SUPERSEDED if newer else CANDIDATE


def _register_fields(curve: BuiltCurve, today: date) -> Mapping[str, Value]:
    fields: dict[str, Value] = {
        "workflow": curve.workflow,
        "printer": curve.printer,
        "stock": curve.stock,
        "linearized": today,
        "name": curve.name,
    }
    if curve.resolution_dpi:
        fields["resolution_dpi"] = curve.resolution_dpi
    if curve.ruling_lpi:
        fields["ruling_lpi"] = curve.ruling_lpi
    return {**fields, "correction": curve.steps}
