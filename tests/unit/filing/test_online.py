from __future__ import annotations

import threading

import pytest

from gatekeeper.filing.desk import Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.online import OfflineError, require_answer, require_marked, require_online


@pytest.fixture
def roots(tmp_path) -> Roots:
    for name in ("drop", "approved", "held"):
        (tmp_path / name / ".gatekeeper").mkdir(parents=True)
        (tmp_path / name / ".gatekeeper" / "site-id").write_text("ferrybank-1\n")
    return Roots(tmp_path / "drop", tmp_path / "approved", tmp_path / "held", "g", "ferrybank-1")


class HangingDisk(Disk):
    """A server that does not answer until it is told to."""

    def __init__(self) -> None:
        self.answers = threading.Event()
        self.asked = 0

    def read(self, path, most):
        self.asked += 1
        self.answers.wait(20)
        return super().read(path, most)


def test_roots_with_this_sites_mark_are_there(roots):
    require_online(Disk(), roots)
    require_answer(Disk(), roots)


def test_folder_without_a_mark_is_away(roots):
    (roots.held / ".gatekeeper" / "site-id").unlink()
    with pytest.raises(OfflineError, match="held is away"):
        require_online(Disk(), roots)
    with pytest.raises(OfflineError, match="held is away"):
        require_answer(Disk(), roots)


def test_folder_of_another_site_is_named(roots):
    (roots.approved / ".gatekeeper" / "site-id").write_text("elsewhere-2")
    with pytest.raises(OfflineError, match="belongs to the site 'elsewhere-2'"):
        require_online(Disk(), roots)


def test_site_without_a_mark_works_on_no_folder(roots):
    with pytest.raises(OfflineError, match="has no mark yet"):
        require_marked(Disk(), roots.held, "")


def test_pipe_in_the_place_of_the_mark_is_no_mark(roots):
    marker = roots.held / ".gatekeeper" / "site-id"
    marker.unlink()
    marker.symlink_to("elsewhere")
    with pytest.raises(OfflineError, match="not a plain file"):
        require_marked(Disk(), roots.held, roots.mark)


def test_server_that_does_not_answer_is_away_and_is_not_asked_again_until_it_does(roots):
    disk = HangingDisk()
    with pytest.raises(OfflineError, match="no answer"):
        require_answer(disk, roots, within_s=0.05)
    with pytest.raises(OfflineError, match="does not answer"):
        require_answer(disk, roots, within_s=0.05)
    assert disk.asked == 1
    disk.answers.set()
    for thread in threading.enumerate():
        if thread.name.startswith("is "):
            thread.join(5)
    require_answer(disk, roots)


def test_call_that_is_under_way_for_somebody_else_is_no_dead_server(roots):
    asked, goes_on = threading.Event(), threading.Event()

    class Slow(Disk):
        def read(self, path, most):
            asked.set()
            goes_on.wait(10.0)
            return super().read(path, most)

    other = threading.Thread(target=require_answer, args=(Slow(), roots))
    other.start()
    try:
        assert asked.wait(10.0)
        require_answer(Disk(), roots)
    finally:
        goes_on.set()
        other.join()


def test_no_further_folder_is_asked_than_where_something_is_wrong(roots):
    (roots.drop / ".gatekeeper" / "site-id").unlink()
    asked = []

    class Noting(Disk):
        def read(self, path, most):
            asked.append(path)
            return super().read(path, most)

    with pytest.raises(OfflineError, match="drop is away"):
        require_answer(Noting(), roots)
    assert [path.parents[1] for path in asked] == [roots.drop]
