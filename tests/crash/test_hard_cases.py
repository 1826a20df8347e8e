"""What people, programs and hands do to files at the worst moment, and what becomes of the job."""

from __future__ import annotations

import errno
import os
import socket

import pytest
from byhand import Pieces
from disks import HookedDisk
from plate_room import GOOD, OPENED, WEAK, sheet
from trail import digest

from gatekeeper.bookkeeper import HALF_SAVED_S, Bookkeeper
from gatekeeper.filing.disk import Disk
from gatekeeper.intake.casework import CHANGED, DOUBTFUL, REMOVED
from gatekeeper.intake.readiness import BEING_EDITED
from gatekeeper.intake.reading import BROUGHT_DOWN
from gatekeeper.rounds.attendant import HELD_UNREAD
from gatekeeper.slips.slip import Slip, SlipKind
from gatekeeper.workshop import rounds_of


def once(moment, act):
    """Return a disk that does something at the first change that fits."""
    done = []

    def hook(operation, paths):
        if not done and moment(operation, paths):
            done.append(operation)
            act(paths)

    return HookedDisk(hook)


def at_copy(operation, paths) -> bool:
    return operation == "create" and paths[0].name == "tmp-sheet"


def reasons(outlook) -> str:
    return " | ".join(f"{entry.name}: {entry.reason}" for entry in outlook.waiting)


# -- files that change --------------------------------------------------------------------------


def test_sheet_that_is_replaced_between_scan_and_claim_settles_afresh(room):
    path = room.drop("1041.csv", sheet(WEAK))

    def replace(_):
        path.unlink()
        path.write_bytes(sheet(GOOD))
        room.dropped[:] = [sheet(GOOD)]

    room.sweep(
        once(lambda operation, _: operation == "mkdir" and _[0].name.endswith(".new"), replace)
    )
    room.sweep()
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}
    assert len(room.verdict("1041")["sheets"]) == 1


def test_sheet_that_changes_in_the_instant_of_the_claim_goes_back_and_settles_afresh(room):
    path = room.drop("1041.csv", sheet(WEAK))

    def write(_):
        path.write_bytes(sheet(GOOD, operator="longer"))
        room.dropped[:] = [sheet(GOOD, operator="longer")]

    disk = once(lambda kind, paths: kind == "rename" and paths[0] == path, write)
    outlook = room.rounds(disk)
    outlook.go()
    outlook.go()
    assert path.read_bytes() == sheet(GOOD, operator="longer")
    room.sweep()
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}


def test_writer_that_kept_its_handle_takes_the_job_out_of_approved_again(room):
    changed = sheet(WEAK, job="a number that was corrected", operator="second")

    def write(_):
        (original,) = room.site.drop.rglob("in/scan-17.csv")
        original.write_bytes(changed)
        room.dropped.append(changed)
        room.sheets += 1

    room.drop("scan-17.csv", sheet(GOOD))
    room.sweep(once(at_copy, write))
    room.require_sound()
    assert room.decisions() == {"1041": "held"}


def test_slip_that_is_written_on_after_it_was_read_leaves_the_job_all_that_was_found_of_it(room):
    room.drop("1041.csv", sheet("2.80"))  # enough for the workflow, too little for its customer
    room.sweep()
    room.drop("second.csv", sheet("2.81", customer=None))
    room.sweep()
    read = digest((room.site.held / "liquid-plate/1041/verdict.json").read_bytes())
    slip = Slip(SlipKind.CONCESSION, "1041", "liquid-plate", read, "Ada Lead", "agreed")
    room.drop("slip.csv", slip.to_bytes(), "concessions")

    def write(_):
        (claimed,) = (room.site.drop / "concessions/.gatekeeper").rglob("slip.csv")
        with claimed.open("ab") as file:
            file.write(b"\n")

    room.sweep(once(at_copy, write))
    assert room.decisions() == {"1041": "held"}
    assert room.verdict("1041")["customer"] == "Quillmark Cartons"
    assert "too thin" in room.says("1041")
    assert "has changed since the slip was written" in room.says("1041")
    room.drop("third.csv", sheet("2.82", customer=None))
    room.sweep()
    assert room.decisions() == {"1041": "held"}, "its customer is forgotten"


def test_writer_that_goes_on_writing_is_waited_for_after_the_second_look(room):
    room.drop("1041.csv", sheet(GOOD))
    writes = []

    def hook(operation, paths):
        if at_copy(operation, paths) and len(writes) < 2:
            (original,) = room.site.drop.rglob("in/1041.csv")
            content = sheet(GOOD, operator=f"writer {len(writes)}")
            original.write_bytes(content)
            writes.append(content)

    rounds = room.rounds(HookedDisk(hook))
    for _ in range(2):
        outlook = rounds.go()
    assert "a program still writes to it" in reasons(outlook)
    assert outlook.waiting[0].due_s is not None
    outlook = rounds.go()
    assert outlook.is_done
    rounds.ledger.history.close()
    room.dropped += writes
    room.sheets += 2
    room.require_sound()
    assert len(room.verdict("1041")["sheets"]) == 3


def test_sheet_that_somebody_has_open_for_writing_is_not_taken(room):
    path = room.drop("1041.csv", sheet(GOOD))
    rounds = room.rounds()
    with path.open("ab"):
        for _ in range(3):
            outlook = rounds.go()
        assert "has it open for writing" in reasons(outlook)
        assert path.exists()
    assert rounds.go().is_done
    rounds.ledger.history.close()
    room.require_sound()


def test_same_name_dropped_again_while_the_first_is_in_work_is_a_sheet_of_its_own(room):
    def drop_again(_):
        room.drop("1041.csv", sheet(GOOD, operator="second"))
        room.drop("1041.pdf", b"artwork of the second")

    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.drop("1041.pdf", b"artwork of the first")
    room.sweep(once(at_copy, drop_again))
    room.sweep()
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}
    assert sorted(room.verdict("1041")["companions"]) == ["1041.2.pdf", "1041.pdf"]


def test_later_sheet_waits_until_the_first_of_its_job_is_filed(room):
    taken = room.site.approved / "liquid-plate" / "1041"

    def take_the_name(_):
        (taken / "somebody's").mkdir(parents=True)

    room.drop("1041.csv", sheet(GOOD, operator="first"))
    outlook = room.sweep(once(at_copy, take_the_name))
    assert "is taken by a folder that this gate did not make" in outlook.alarms[0]
    room.drop("1041.csv", sheet(WEAK, operator="second"))
    outlook = room.sweep()
    assert "waits until its earlier sheet is filed" in reasons(outlook)
    (taken / "somebody's").rmdir()
    taken.rmdir()
    assert room.sweep().is_done
    room.require_sound()
    assert room.decisions() == {"1041": "held"}


def test_sheet_that_cannot_be_taken_has_one_ticket_however_often_it_is_tried(room):
    """A share may refuse the rename out of a folder that looks open."""
    source = room.drop("1041.csv", sheet(GOOD))
    is_shut = True

    def refuse(operation, paths):
        if is_shut and operation == "rename" and paths[0] == source:
            raise OSError(errno.EACCES, "Permission denied", str(paths[0]))

    disk = HookedDisk(refuse)
    rounds = room.rounds(disk)
    said = set()
    for _ in range(4):
        outlook = rounds.go()
        said |= set(outlook.alarms)
        assert len(outlook.waiting) == 1
    assert len(said) == 1
    claims = source.parent / ".gatekeeper" / room.site.gate
    assert len([ticket for ticket in claims.iterdir() if ticket.is_dir()]) == 1
    is_shut = False
    assert rounds.go().is_done
    rounds.ledger.history.close()
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}


def test_folder_that_somebody_made_in_the_place_of_the_job_is_never_replaced(room):
    taken = room.site.approved / "liquid-plate" / "1041"
    room.drop("1041.csv", sheet(GOOD))
    room.sweep(once(at_copy, lambda _: (taken / "x").mkdir(parents=True)))
    assert list(taken.iterdir()) == [taken / "x"]
    verdict = next(room.site.held.rglob("job/verdict.json")).read_bytes()
    taken.rename(room.site.root / "away")
    room.sweep()
    room.require_sound()
    assert (taken / "verdict.json").read_bytes() == verdict


def test_same_bytes_again_are_a_sheet_like_any_other_with_a_note(room):
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    room.require_sound()
    notes = [f["says"] for f in room.verdict("1041")["findings"] if f["outcome"] == "note"]
    assert "the same bytes as an earlier sheet of this job" in notes


def test_sheet_that_the_room_delayed_keeps_its_place_among_those_of_its_job(room):
    """The first sheet is refused once, so the second is filed first; the second still counts."""

    class Refusing(Disk):
        refused = False

        def before(self, operation, *paths):
            if operation == "create" and paths[0].name == "attempt.1" and not self.refused:
                self.refused = True
                raise OSError(errno.ENOSPC, "full", str(paths[0]))

    room.drop("1041-a.csv", sheet(WEAK, operator="first"))
    room.drop("1041-b.csv", sheet(GOOD, operator="second"))
    room.sweep(Refusing())
    room.sweep()
    room.require_sound()
    assert [entry["dropped_as"] for entry in room.verdict("1041")["sheets"]] == [
        "1041-a.csv",
        "1041-b.csv",
    ]
    assert room.decisions() == {"1041": "approved"}
    with room.history() as history:
        newest = history.job("1041")[0].line
        assert (newest.newest, newest.decision.value) == (True, "approved")


# -- companions ---------------------------------------------------------------------------------


def test_companion_without_a_sheet_waits_and_is_shown_as_left_behind(room):
    room.drop("777.pdf", b"artwork")
    outlook = room.sweep()
    assert not outlook.is_done
    assert "777.pdf: waits for its sheet" in reasons(outlook)
    assert room.decisions() == {}


def test_late_companion_finds_the_job_whose_sheet_had_its_stem(room):
    room.drop("scan-17.csv", sheet(GOOD))
    room.sweep()
    room.drop("scan-17.pdf", b"artwork")
    room.sweep()
    room.require_sound()
    assert (room.site.approved / "liquid-plate" / "1041" / "scan-17.pdf").exists()


@pytest.mark.parametrize("name", ["1041.2.pdf", "10410.pdf", "1041-a.pdf"])
def test_companion_belongs_to_a_sheet_of_exactly_its_stem(room, name):
    room.drop("1041.csv", sheet(GOOD))
    room.drop(name, b"artwork of another job")
    room.sweep()
    assert (room.site.drop / "liquid-plate" / name).exists()


def test_files_called_like_ours_get_a_name_of_their_own(room):
    room.drop("box/1041.csv", sheet(GOOD))
    room.drop("box/report.txt", b"a report of theirs")
    room.drop("box/Verdict.json", b"{}")
    room.drop("box/report.2.txt", b"another report of theirs")
    room.sweep()
    folder = room.site.approved / "liquid-plate" / "1041"
    assert (folder / "dropped-report.txt").read_bytes() == b"a report of theirs"
    assert (folder / "dropped-report.2.txt").read_bytes() == b"another report of theirs"
    assert (folder / "dropped-Verdict.json").exists()
    room.require_sound()


# -- groups and folders -------------------------------------------------------------------------


def test_names_that_differ_only_in_case_are_held_all_of_them(room):
    room.drop("Job.csv", sheet(GOOD))
    room.drop("job.csv", sheet(GOOD, operator="second"))
    room.sweep()
    room.require_sound()
    (job,) = room.decisions()
    assert room.decisions()[job] == "held"
    assert "differ only in case" in room.says(job)


def test_two_sheets_of_one_name_are_held_both(room):
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.CSV", sheet(GOOD, operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "held"}
    assert "two sheets of one name" in room.says("1041")
    assert len(room.verdict("1041")["sheets"]) == 2


def test_dropped_folder_with_sheets_of_two_jobs_becomes_two_jobs(room):
    room.drop("monday/a.csv", sheet(GOOD))
    room.drop("monday/b.csv", sheet(GOOD, job="1042", operator="second"))
    room.drop("monday/b.pdf", b"artwork of 1042")
    room.sweep()
    room.require_sound()
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
    assert room.verdict("1042")["companions"] == ["b.pdf"]
    assert not (room.site.drop / "liquid-plate" / "monday").exists()


def test_folder_in_a_dropped_folder_waits_until_it_is_taken_out(room):
    room.drop("1041/k.csv", sheet(GOOD))
    inner = room.site.drop / "liquid-plate" / "1041" / "inner"
    inner.mkdir()
    outlook = room.sweep()
    assert "1041/inner: is not a plain file" in reasons(outlook)
    assert room.decisions() == {}
    inner.rmdir()
    assert room.sweep().is_done
    room.require_sound()


def test_sheet_without_a_job_number_goes_by_the_folder_that_it_was_dropped_in(room):
    room.drop("box 7/k.csv", sheet(GOOD, job=None))
    room.sweep()
    assert room.decisions() == {"box 7": "held"}


# -- what is no plain file ----------------------------------------------------------------------


def test_links_pipes_sockets_and_devices_are_left_shown_and_never_read(room, tmp_path):
    folder = room.site.drop / "liquid-plate"
    (tmp_path / "secret.csv").write_bytes(sheet(GOOD, job="secret"))
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "dangling.csv").symlink_to(tmp_path / "nothing")
    (folder / "folder-link").symlink_to(tmp_path)
    os.mkfifo(folder / "pipe.csv")
    with socket.socket(socket.AF_UNIX) as server:
        here = os.open(folder, os.O_RDONLY)
        server.bind(f"/proc/self/fd/{here}/socket.csv")
        os.close(here)
    shown = ["link.csv", "dangling.csv", "folder-link", "pipe.csv", "socket.csv"]
    if os.geteuid() == 0:
        os.mknod(folder / "device.csv", 0o600 | 0o020000, os.makedev(1, 3))
        shown.append("device.csv")
    room.drop("1041.csv", sheet(GOOD))
    outlook = room.sweep()
    assert room.decisions() == {"1041": "approved"}
    assert all(f"{name}: is not a plain file" in reasons(outlook) for name in shown)
    assert all(os.path.lexists(folder / name) for name in shown)


@pytest.mark.parametrize("root", ["approved", "held"])
def test_link_in_the_place_of_a_job_folder_is_not_followed(room, tmp_path, root):
    place = getattr(room.site, root) / "liquid-plate" / "1041"
    place.symlink_to(tmp_path, target_is_directory=True)
    room.drop("1041.csv", sheet(GOOD))
    outlook = room.sweep()
    assert any("links are not followed" in alarm for alarm in outlook.alarms)
    assert not list(tmp_path.iterdir())
    place.unlink()
    assert room.sweep().is_done
    room.require_sound()


def test_link_in_the_place_of_a_workflows_folder_is_not_followed(room, tmp_path):
    place = room.site.approved / "liquid-plate"
    place.rmdir()
    place.symlink_to(tmp_path, target_is_directory=True)
    room.drop("1041.csv", sheet(GOOD))
    assert any("links are not followed" in alarm for alarm in room.sweep().alarms)
    assert not list(tmp_path.iterdir())


def test_link_in_the_place_of_a_work_folder_stops_that_drop_folder_alone(room, tmp_path):
    (room.site.drop / "stencil" / ".gatekeeper").symlink_to(tmp_path, target_is_directory=True)
    room.drop("1041.csv", sheet(GOOD))
    outlook = room.sweep()
    assert any(alarm.startswith("stencil: a link") for alarm in outlook.alarms)
    assert room.decisions() == {"1041": "approved"}
    assert not list(tmp_path.iterdir())


# -- names --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("job", "folder"),
    [
        ("../../etc", "%2E.%2F..%2Fetc"),
        ("..", "%2E%2E"),
        ("a/b", "a%2Fb"),
        (".gatekeeper", "%2Egatekeeper"),
        ("con", "%63on"),
        ("-rf", "%2Drf"),
        ("50%", "50%25"),
    ],
)
def test_job_number_never_leads_out_of_its_folder(room, job, folder):
    room.drop("x.csv", sheet(GOOD, job=job))
    room.sweep()
    room.require_sound()
    assert room.decisions() == {folder: "approved"}
    assert room.verdict(folder)["job"] == job


def test_names_of_255_bytes_are_filed_and_filed_again(room):
    name = "n" * 251 + ".csv"
    artwork = "n" * 251 + ".pdf"
    for operator in ("first", "second", "third"):
        room.drop(name, sheet(GOOD, operator=operator))
        room.drop(artwork, f"artwork of the {operator}".encode())
        room.sweep()
    room.require_sound()
    assert len(room.verdict("1041")["sheets"]) == 3


def test_name_that_is_no_text_is_filed(room):
    name = os.fsdecode(b"gr\xfcn\x1b[31m\n.csv")
    room.drop(name, sheet(GOOD))
    room.drop(name.replace(".csv", ".pdf"), b"artwork")
    room.sweep()
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}
    (folder,) = room.job_folders().values()
    assert (folder / name).exists()


def test_spellings_of_one_job_share_one_folder_named_by_the_first(room):
    for operator, job in enumerate(["Straße 7", "STRASSE 7", "straße  7", "Strasse 7"]):
        room.drop(f"{operator}.csv", sheet(GOOD, job=job, operator=str(operator)))
        room.sweep()
    room.require_sound()
    assert room.decisions() == {"Straße 7": "approved"}
    assert len(room.verdict("Straße 7")["sheets"]) == 4


def test_late_companion_finds_the_folder_of_another_spelling(room):
    room.drop("QC-7.csv", sheet(GOOD, job="QC-7"))
    room.sweep()
    room.drop("qc-7.pdf", b"artwork")
    room.sweep()
    room.require_sound()
    assert (room.site.approved / "liquid-plate" / "QC-7" / "qc-7.pdf").exists()


# -- sheets that cannot be read -----------------------------------------------------------------


def test_empty_sheet_waits_and_is_held_after_a_long_time(room):
    room.drop("1041.csv", b"")
    rounds = room.rounds()
    for _ in range(3):
        outlook = rounds.go()
    assert "the file is empty" in reasons(outlook)
    room.clock.count += 700
    assert rounds.go().is_done
    rounds.ledger.history.close()
    assert room.decisions() == {"1041": "held"}
    assert "empty" in room.says("1041")


def test_sheet_of_a_terabyte_is_held_without_being_read(room):
    path = room.drop("1041.csv", b"")
    room.dropped.clear()
    os.truncate(path, 1 << 40)
    room.sweep()
    assert room.decisions() == {"1041": "held"}
    assert "too large to be a sheet" in room.says("1041")
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    assert room.decisions() == {"1041": "approved"}
    filed = room.site.approved / "liquid-plate" / "1041" / "1041.csv"
    assert filed.stat().st_size == 1 << 40


class BadMedium(Disk):
    """Does not give the bytes of a claimed sheet, so many times."""

    def __init__(self, times: int) -> None:
        self.times = times

    def read(self, path, most):
        if path.parent.name == "in" and self.times > 0:
            self.times -= 1
            raise OSError(errno.EIO, "Input/output error", str(path))
        return super().read(path, most)


def test_sheet_that_the_disk_does_not_give_at_first_is_tried_again(room):
    room.drop("1041.csv", sheet(GOOD))
    outlook = room.sweep(BadMedium(1))
    assert any("could not be read" in alarm for alarm in outlook.alarms)
    assert room.sweep().is_done
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}


def test_sheet_that_the_disk_never_gives_is_held_at_the_third_try(room):
    room.drop("1041.csv", sheet(GOOD))
    disk = BadMedium(100)
    for _ in range(2):
        assert not room.sweep(disk).is_done
        assert room.decisions() == {}
    room.sweep(disk)
    assert room.decisions() == {"1041": "held"}
    assert "the disk does not give it" in room.says("1041")
    folder = room.site.held / "liquid-plate" / "1041"
    assert (folder / "1041.csv").read_bytes() == sheet(GOOD)


def test_third_start_of_a_sheet_does_not_read_it(room):
    pieces = Pieces(room)
    pieces.lay_claim("in", attempts=2)
    pieces.recover()
    assert room.decisions() == {"1041": "held"}
    assert BROUGHT_DOWN in room.says("1041")
    room.require_sound()
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "approved"}


def test_program_that_fails_on_a_sheet_holds_it_and_goes_on(room):
    rounds = room.rounds()
    ask = rounds.ledger.job_of_digest

    def fail_on_one(sha256, *, other_than):
        if other_than == "1041":
            raise ZeroDivisionError
        return ask(sha256, other_than=other_than)

    rounds.ledger.job_of_digest = fail_on_one
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    for _ in range(3):
        rounds.go()
    rounds.ledger.history.close()
    room.require_sound()
    assert room.decisions() == {"1041": "held", "1042": "approved"}
    assert HELD_UNREAD in room.says("1041")


def test_sheet_that_waits_for_its_rules_however_often_is_read_in_the_end(room):
    pieces = Pieces(room)
    pieces.lay_claim("in")
    rules = room.site.root / "workflows" / "liquid-plate.yaml"
    good = rules.read_bytes()
    rules.write_bytes(b"broken: [")
    for _ in range(5):
        outlook = room.sweep_anew()
        assert "waits for its rules" in reasons(outlook)
    rules.write_bytes(good)
    assert room.sweep_anew().is_done
    room.require_sound()
    assert room.decisions() == {"1041": "approved"}


# -- hands in the job folders -------------------------------------------------------------------


def test_sheet_that_comes_while_rules_are_being_saved_is_judged_by_what_was_saved(room):
    seconds = [0.0]
    keeper = Bookkeeper(room.site, lambda: seconds[0])
    rounds = rounds_of(room.site, room.clock, lambda: keeper.book, settle_s=0.0)
    OPENED.append(rounds.ledger.history)
    rules = room.site.root / "workflows/liquid-plate.yaml"
    rules.write_text(rules.read_text().replace("min: 2.70", "min: 2.95"))
    room.drop("1041.csv", sheet(GOOD, customer=None))
    keeper.look()
    outlook = [rounds.go() for _ in range(3)][-1]
    assert reasons(outlook) == f"1041: {BEING_EDITED}"
    assert outlook.next_due_s
    seconds[0] += HALF_SAVED_S
    keeper.look()
    rounds.go()
    assert room.decisions() == {"1041": "held"}


def test_job_under_both_roots_waits_until_one_is_taken_away(room):
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.sweep()
    other = room.site.approved / "liquid-plate" / "1041"
    other.mkdir()
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    outlook = room.sweep()
    assert any("stands under approved and under held" in alarm for alarm in outlook.alarms)
    other.rmdir()
    assert room.sweep().is_done
    room.require_sound()


@pytest.mark.parametrize("damage", [b"", b"{", None])
def test_job_whose_last_verdict_is_lost_is_held_once_over_every_sheet_in_its_folder(room, damage):
    room.drop("1041-k.csv", sheet(WEAK, separations="2"))
    room.sweep()
    held = room.site.held / "liquid-plate" / "1041"
    if damage is None:
        (held / "verdict.json").unlink()
    else:
        (held / "verdict.json").write_bytes(damage)
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan"))
    room.sweep()
    assert room.decisions() == {"1041": "held"}
    assert DOUBTFUL.says in room.says("1041")
    assert {entry["name"] for entry in room.verdict("1041")["sheets"]} == {
        "1041-k.csv",
        "1041-c.csv",
    }
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan", operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "held"}  # black is still weak
    room.drop("1041-k.csv", sheet(GOOD, separations="2", operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "approved"}


@pytest.mark.parametrize(("hand", "says"), [("changes", CHANGED.says), ("removes", REMOVED.says)])
def test_sheet_that_a_hand_changed_in_the_job_folder_holds_the_job(room, hand, says):
    room.drop("1041-k.csv", sheet(GOOD))
    room.sweep()
    judged = room.site.approved / "liquid-plate" / "1041" / "1041-k.csv"
    judged.write_bytes(b"other readings") if hand == "changes" else judged.unlink()
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan"))
    outlook = room.sweep()
    assert outlook.is_done
    assert room.decisions() == {"1041": "held"}
    assert says in room.says("1041")
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan", operator="again"))
    room.sweep()
    assert room.decisions() == {"1041": "held"}  # what the hand has left counts no more
    room.drop("1041-k.csv", sheet(GOOD, operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "approved"}


def test_damaged_note_of_the_job_is_an_alarm_and_other_jobs_go_on(room):
    pieces = Pieces(room)
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_bench()
    (pieces.claim / "job.json").write_bytes(b"{")
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    outlook = pieces.recover()
    assert any("job.json in the work folder is damaged" in alarm for alarm in outlook.alarms)
    assert room.decisions() == {"1042": "approved"}
    assert (pieces.bench / "job" / "verdict.json").exists()


# -- folders that are away ----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["drop", "approved", "held"])
def test_folder_that_is_not_mounted_is_not_an_empty_folder(room, name):
    root = getattr(room.site, name)
    room.drop("1041.csv", sheet(GOOD))
    away = root.with_name("unmounted")
    root.rename(away)
    root.mkdir()
    outlook = room.sweep()
    assert any(f"{root} is away" in alarm for alarm in outlook.alarms)
    assert not outlook.is_done
    assert not list(root.iterdir())  # nothing was made in the mount point
    root.rmdir()
    away.rename(root)
    assert room.sweep().is_done
    room.require_sound()


def test_share_of_another_site_is_not_worked_on(room):
    marker = room.site.held / ".gatekeeper" / "site-id"
    own = marker.read_bytes()
    marker.write_bytes(b"another room\n")
    room.drop("1041.csv", sheet(GOOD))
    assert any("belongs to the site 'another room'" in alarm for alarm in room.sweep().alarms)
    assert room.decisions() == {}
    marker.write_bytes(own)
    assert room.sweep().is_done


def test_job_is_not_begun_anew_while_the_folder_that_holds_it_is_away(room):
    room.drop("1041.csv", sheet(GOOD, operator="first"))
    room.sweep()
    approved, away = room.site.approved, room.site.root / "unmounted"

    def unmount(_):
        approved.rename(away)
        approved.mkdir()

    room.drop("1041.csv", sheet(WEAK, operator="second"))
    benches = room.site.held / ".gatekeeper" / room.site.gate
    disk = once(lambda kind, paths: (kind, paths[0]) == ("fsync", benches), unmount)
    outlook = room.sweep(disk)
    assert any("is away" in alarm for alarm in outlook.alarms)
    assert not list(approved.iterdir())
    approved.rmdir()
    away.rename(approved)
    assert room.sweep().is_done
    room.require_sound()
    assert room.decisions() == {"1041": "held"}
    assert len(room.verdict("1041")["sheets"]) == 2


def test_missing_ticket_is_not_thrown_away_while_a_folder_goes_away_in_this_moment(room):
    pieces = Pieces(room)
    pieces.lay_claim("gone")
    marker = room.site.approved / ".gatekeeper" / "site-id"
    mark = marker.read_bytes()
    rounds = room.rounds()
    list_tickets = rounds._begun  # noqa: SLF001 -- the moment between the first look and the second

    def list_and_lose(folders, outlook):
        desks = list_tickets(folders, outlook)
        marker.unlink()
        return desks

    rounds._begun = list_and_lose  # noqa: SLF001
    assert any("is away" in alarm for alarm in rounds.go().alarms)
    assert pieces.claim.exists()
    marker.write_bytes(mark)
    rounds.ledger.history.close()


# -- clocks -------------------------------------------------------------------------------------


def test_clock_that_is_set_back_changes_no_order(room):
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.sweep()
    first = room.verdict("1041")["ticket"]
    room.clock.time = room.clock.time.replace(year=2026, month=11, day=22)
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.sweep()
    room.require_sound()
    assert room.verdict("1041")["ticket"] > first
    with room.history() as history:
        assert history.job("1041")[0].line.newest
