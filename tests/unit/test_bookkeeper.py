"""The book of a site, followed through the edits of its administrator."""

import errno
import logging
import os
from datetime import date, time
from pathlib import Path

import pytest

from gatekeeper.bookkeeper import HALF_SAVED_S, Bookkeeper
from gatekeeper.site import read_site
from gatekeeper.yamlfiles.places import BrokenFilesError

LIQUID = "workflow: liquid-plate\nreading: negative\nsolid_density: {min: 2.70}\n"
QUILLMARK = "customer: Quillmark\nall_workflows:\n  solid_density:\n    min: 2.85\n    max: 5\n"
SITE = "site: Ferrybank\non_broken_rules: wait\nfloors: {solid_density: {min: 2.50}}\n"


class Room:
    """A site on disk, the clock of its gate, and who follows its files."""

    def __init__(self, root, site=SITE):
        self.root = root
        self.seconds = 100.0
        for folder in ("workflows", "customers", "register"):
            (root / folder).mkdir()
        self.write("site.yaml", site)
        self.write("workflows/liquid-plate.yaml", LIQUID)
        self.write("customers/quillmark.yaml", QUILLMARK)
        self.day = date(2026, 11, 30)
        self.keeper = Bookkeeper(read_site(root), lambda: self.seconds, lambda: self.day)

    def write(self, name, text):
        (self.root / name).write_text(text)

    def look(self, *, after=0.0):
        self.seconds += after
        return self.keeper.look()

    def settle(self):
        """Look twice, far enough apart for an edit to count."""
        return [self.look(), self.look(after=HALF_SAVED_S)]

    def minimum(self, customer=""):
        rules = self.keeper.book.library.effective("liquid-plate", customer)
        return rules.limit("solid_density", "min").value

    def told(self):
        return [f"{problem.place} {problem.name}" for problem in self.keeper.problems]


@pytest.fixture
def room(tmp_path):
    return Room(tmp_path)


def test_rules_are_read_at_the_start(room):
    assert (room.minimum(), room.minimum("quillmark"), room.told()) == (2.7, 2.85, [])


def test_nothing_is_taken_up_while_nothing_changes(room):
    assert room.settle() == [False, False]


def test_good_edit_is_taken_up_when_it_has_been_at_rest(room):
    room.write("workflows/liquid-plate.yaml", LIQUID.replace("2.70", "2.75"))
    assert room.look() is False
    assert room.look(after=HALF_SAVED_S / 2) is False
    assert room.minimum() == 2.7
    assert room.look(after=HALF_SAVED_S / 2) is True
    assert room.minimum() == 2.75
    assert room.settle() == [False, False]


def test_edit_is_known_from_the_first_look_until_it_is_taken_up_or_taken_back(room):
    saved = LIQUID.replace("2.70", "2.75")
    known = []
    for text in (LIQUID, saved, saved, LIQUID.replace("2.70", "2.80"), saved):
        room.write("workflows/liquid-plate.yaml", text)
        room.look(after=HALF_SAVED_S)
        known.append(room.keeper.book.is_being_edited)
    assert known == [False, True, False, True, False]


def test_half_of_a_file_is_never_in_force(room):
    for end in range(0, len(QUILLMARK), 3):
        room.write("customers/quillmark.yaml", QUILLMARK[:end])
        assert room.look(after=HALF_SAVED_S * 0.9) is False
        assert room.minimum("Quillmark") == 2.85
    room.write("customers/quillmark.yaml", QUILLMARK.replace("2.85", "2.95"))
    assert room.settle() == [False, True]
    assert room.minimum("Quillmark") == 2.95


def test_edit_that_is_taken_back_while_it_rests_never_happened(room):
    room.write("workflows/liquid-plate.yaml", "[")
    assert room.look() is False
    room.write("workflows/liquid-plate.yaml", LIQUID)
    assert room.look(after=HALF_SAVED_S) is False
    room.write("workflows/liquid-plate.yaml", "[")
    assert room.look(after=HALF_SAVED_S) is False  # its rest begins anew
    assert room.told() == []


def test_file_that_is_away_while_an_editor_saves_it_is_not_removed(room):
    path = room.root / "customers/quillmark.yaml"
    path.unlink()
    assert room.look() is False
    room.write("customers/quillmark.yaml", QUILLMARK)
    assert room.look(after=HALF_SAVED_S) is False
    assert room.minimum("Quillmark") == 2.85


def test_file_that_an_editor_kept_to_itself_is_read_when_it_lets_go(room, monkeypatch):
    (room.root / "readers").mkdir()  # the last of the folders whose stamps are looked at
    room.write("workflows/liquid-plate.yaml", LIQUID.replace("2.70", "2.75"))
    kept, opened = room.root / "workflows/liquid-plate.yaml", Path.open

    def refuse(path, *how, **more):
        if path == kept:  # as a share says of a file that another machine has locked
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        return opened(path, *how, **more)

    with monkeypatch.context() as share:
        share.setattr(Path, "open", refuse)
        assert room.settle() == [False, True]
        assert len(room.told()) == 1
    assert room.settle() == [False, True]
    assert (room.told(), room.minimum()) == ([], 2.75)


def test_broken_edit_makes_its_jobs_wait_until_it_is_mended(room):
    room.write("customers/quillmark.yaml", QUILLMARK.replace("2.85", "2,85"))
    assert room.settle() == [False, True]
    assert room.told() == ["customers/quillmark.yaml:4 not-a-number"]
    assert room.minimum() == 2.7
    with pytest.raises(BrokenFilesError):
        room.minimum("Quillmark")
    room.write("customers/quillmark.yaml", QUILLMARK)
    room.settle()
    assert (room.told(), room.minimum("Quillmark")) == ([], 2.85)


def test_new_file_is_taken_up_and_a_removed_one_is_forgotten(room):
    room.write("customers/p.yaml", "customer: Pennyroyal\n")
    room.settle()
    assert room.minimum("Pennyroyal") == 2.7
    (room.root / "customers/p.yaml").unlink()
    room.settle()
    assert "pennyroyal" not in room.keeper.book.library.customers


def test_new_floors_are_taken_up(room):
    room.write("site.yaml", SITE.replace("2.50", "2.80"))
    assert room.settle() == [False, True]
    assert room.told() == ["workflows/liquid-plate.yaml:3 looser-than-floor"]
    assert room.minimum("Quillmark") == 2.85


def test_half_saved_site_file_is_no_edit(room):
    room.write("site.yaml", SITE[:20])
    assert room.look() is False
    room.write("site.yaml", SITE)
    assert room.look(after=HALF_SAVED_S) is False
    assert room.told() == []


@pytest.mark.parametrize("how", ["broken", "removed"])
def test_site_file_broken_while_running_makes_every_job_wait(room, how):
    if how == "broken":
        room.write("site.yaml", SITE + "flors: {}\n")
    else:
        (room.root / "site.yaml").unlink()
    assert room.settle() == [False, True]
    names = {"broken": "site.yaml:4 unknown-key", "removed": "site.yaml:1 unreadable-file"}
    assert room.told() == [names[how]]
    assert [problem.place.file for problem in room.keeper.book.for_all] == ["site.yaml"]
    room.write("site.yaml", SITE)
    room.settle()
    assert (room.told(), room.keeper.book.for_all) == ([], ())


def test_settings_that_need_a_new_start_are_said_and_kept(room, caplog):
    with caplog.at_level(logging.WARNING):
        room.write("site.yaml", SITE + "time_zone: Europe/London\n")
        room.settle()
    assert "next start" in caplog.text
    assert room.keeper.site.settings.time_zone == "UTC"
    assert room.told() == []


def test_schedule_is_taken_up_at_once_and_what_is_not_is_named_once(room, caplog):
    edit = SITE + "upkeep: {digest_at: '06:10'}\nrescan_s: 5\nleads: [ada]\nsettle_s: 9\n"
    with caplog.at_level(logging.INFO):
        room.write("site.yaml", edit)
        room.settle()
        room.write("site.yaml", edit + "# mine\n")
        room.settle()
    settings = room.keeper.site.settings
    assert (settings.upkeep.digest_at, settings.rescan_s) == (time(6, 10), 5.0)
    assert settings.leads == ("ada",)
    assert settings.settle_s == 2.0
    said = [record.getMessage() for record in caplog.records]
    assert said == [
        "site.yaml: taken up: leads, rescan_s, upkeep",
        "site.yaml: taken up at the next start: settle_s",
    ]


def test_schedule_of_a_broken_site_file_is_not_taken_up(room):
    room.write("site.yaml", SITE + "upkeep: {digest_at: '26:10'}\nrescan_s: 5\n")
    room.settle()
    assert room.keeper.site.settings.rescan_s == 15.0


def test_comment_in_the_site_file_and_a_new_floor_need_no_new_start(room, caplog):
    with caplog.at_level(logging.WARNING):
        room.write("site.yaml", SITE.replace("2.50", "2.40") + "# mine\n")
        room.settle()
    assert caplog.text == ""


def test_room_may_decide_on_the_last_good_rules_while_running(room):
    room.write("site.yaml", SITE.replace("wait", "last_good"))
    room.settle()
    room.write("workflows/liquid-plate.yaml", LIQUID.replace("2.70", "x"))
    room.settle()
    assert room.minimum() == 2.7
    assert room.keeper.book.library.effective("liquid-plate", "").notes


def test_last_good_rules_are_the_newest_good_ones_and_not_the_first(tmp_path):
    room = Room(tmp_path, SITE.replace("wait", "last_good"))
    for minimum in ("2.75", "2.80", "x", "y"):
        room.write("workflows/liquid-plate.yaml", LIQUID.replace("2.70", minimum))
        room.settle()
    assert (room.minimum(), room.minimum("Quillmark")) == (2.8, 2.85)
    assert room.told() == ["workflows/liquid-plate.yaml:3 not-a-number"]


def test_last_good_site_file_stays_in_force_where_the_room_chose_so(tmp_path):
    room = Room(tmp_path, SITE.replace("wait", "last_good"))
    room.write("site.yaml", "site: [\n")
    room.settle()
    assert room.keeper.book.for_all == ()
    assert len(room.told()) == 1
    assert "site.yaml" in room.keeper.book.library.effective("liquid-plate", "").notes[0]


def test_removed_file_has_no_last_good_text(tmp_path):
    room = Room(tmp_path, SITE.replace("wait", "last_good"))
    path = room.root / "customers/quillmark.yaml"
    path.unlink()
    room.settle()
    room.write("customers/quillmark.yaml", QUILLMARK.replace("2.85", "x"))
    room.settle()
    with pytest.raises(BrokenFilesError):
        room.minimum("Quillmark")


def test_file_of_two_kinds_of_doubt_never_becomes_the_last_good_one(tmp_path):
    room = Room(tmp_path, SITE.replace("wait", "last_good"))
    room.write("customers/quillmark.yaml", QUILLMARK.replace("max: 5", "max: 2.6"))
    room.settle()
    assert room.minimum("Quillmark") == 2.85
    assert (
        room.keeper.book.library.effective("liquid-plate", "Quillmark")
        .limit("solid_density", "max")
        .value
        == 5
    )


CHANGES = "changes: [{effective_from: 2026-12-01, solid_density: {min: 2.80}}]\n"


def test_rules_change_at_midnight_without_anyone_there(room):
    room.write("workflows/liquid-plate.yaml", LIQUID + CHANGES)
    room.settle()
    assert (room.look(), room.minimum()) == (False, 2.7)
    room.day = date(2026, 12, 1)
    assert (room.look(), room.minimum()) == (True, 2.8)
    assert room.look() is False


def test_midnight_on_which_no_rule_changes_is_no_edit(room):
    room.day = date(2026, 12, 1)
    assert room.look() is False


def test_midnight_passes_while_an_edit_rests(room):
    room.write("workflows/liquid-plate.yaml", LIQUID + CHANGES)
    room.settle()
    room.write("customers/quillmark.yaml", "customer: Quillmark\n")
    room.day = date(2026, 12, 1)
    assert (room.look(), room.minimum("Quillmark")) == (True, 2.85)
    assert (room.look(after=HALF_SAVED_S), room.minimum("Quillmark")) == (True, 2.8)


def test_without_a_scripted_day_the_real_one_counts(room):
    assert Bookkeeper(read_site(room.root), lambda: 0.0).look() is False


@pytest.mark.skipif(os.geteuid() == 0, reason="root may list everything")
def test_folder_that_can_no_longer_be_listed_is_not_an_empty_one(room):
    (room.root / "customers").chmod(0)
    try:
        room.settle()
    finally:
        (room.root / "customers").chmod(0o755)
    assert room.told() == ["customers/:1 unreadable-file"]
    with pytest.raises(BrokenFilesError):
        room.minimum("Quillmark")
