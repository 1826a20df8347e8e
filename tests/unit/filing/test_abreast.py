"""Jobs abreast: each goes on only when its own wish is granted, and wishes are granted together."""

import pytest

from gatekeeper.filing.abreast import Abreast
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.wholedisk import WholeDisks


class Counting(Disk):
    """Counts flushes; refuses those of one name."""

    whole_is_enough = False

    def __init__(self, refused=""):
        self.flushed = []
        self.refused = refused

    def before(self, operation, *paths):
        if operation == "fsync":
            self.flushed.append(paths[0].name)
            if paths[0].name == self.refused:
                raise OSError(5, "Input/output error", str(paths[0]))


def told_nothing(items):
    return [None] * len(items)


def abreast(disk, tell=told_nothing):
    return Abreast(disk, WholeDisks(()), tell, lambda: None)


def test_folder_that_many_wait_for_is_flushed_once(tmp_path):
    disk, order = Counting(), []

    def task(number):
        order.append(f"asks {number}")
        disk.sync(tmp_path)
        order.append(f"has {number}")

    abreast(disk).run([lambda n=n: task(n) for n in range(3)])
    assert disk.flushed == [tmp_path.name]
    assert order == ["asks 0", "asks 1", "asks 2", "has 0", "has 1", "has 2"]


def test_files_are_each_flushed_before_their_writers_go_on(tmp_path):
    disk, seen = Counting(), {}

    def task(name):
        disk.write_new(tmp_path / name, b"readings")
        seen[name] = list(disk.flushed)

    abreast(disk).run([lambda n=n: task(n) for n in ("a", "b")])
    assert seen == {"a": ["a", "b"], "b": ["a", "b"]}
    assert {(tmp_path / name).read_bytes() for name in "ab"} == {b"readings"}


def test_flush_that_fails_fails_for_those_who_asked_and_leaves_no_file(tmp_path):
    disk, outcome = Counting(refused="bad"), {}

    def task(name):
        try:
            disk.write_new(tmp_path / name, b"readings")
        except OSError as error:
            outcome[name] = error.errno
        else:
            outcome[name] = 0

    abreast(disk).run([lambda n=n: task(n) for n in ("bad", "good")])
    assert outcome == {"bad": 5, "good": 0}
    assert [path.name for path in tmp_path.iterdir()] == ["good"]


def test_job_that_waits_for_several_flushes_goes_on_after_all_of_them_and_hears_of_one_that_failed(
    tmp_path,
):
    disk, seen, failed = Counting(refused="bad"), [], []
    for name in ("good", "other", "bad"):
        (tmp_path / name).mkdir()

    def sound():
        disk.sync(tmp_path / "good", tmp_path / "other")
        seen.extend(disk.flushed)

    def unsound():
        with pytest.raises(OSError, match="bad") as caught:
            disk.sync(tmp_path / "good", tmp_path / "bad")
        failed.append(caught.value.errno)

    abreast(disk).run([sound, unsound])
    assert seen == ["good", "other", "bad"]
    assert failed == [5]


def test_later_job_with_a_common_key_waits_until_the_earlier_one_has_ended(tmp_path):
    disk, order = Counting(), []
    group = abreast(disk)

    def task(rank, keys, syncs):
        for _ in range(syncs):  # the earlier one is the slower one to find out who it is
            disk.sync(tmp_path)
        group.wait_for_turn(rank, keys)
        order.append(f"begins {rank}")
        disk.sync(tmp_path)
        order.append(f"ends {rank}")

    group.run(
        [
            lambda: task("1", ["job", "one"], 3),
            lambda: task("2", ["job", "two"], 0),
            lambda: task("3", ["other"], 0),
        ]
    )
    assert order.index("ends 1") < order.index("begins 2")
    assert order.index("begins 3") < order.index("ends 1")


def test_what_several_have_to_tell_is_told_at_once_and_each_hears_of_its_own():
    batches, outcome = [], {}

    def tell(items):
        batches.append(list(items))
        return [ValueError(item) if item == "b" else None for item in items]

    group = abreast(Counting(), tell)

    def task(item):
        try:
            group.wait_told(item)
        except ValueError as error:
            outcome[item] = str(error)
        else:
            outcome[item] = "told"

    group.run([lambda n=n: task(n) for n in "abc"])
    assert batches == [["a", "b", "c"]]
    assert outcome == {"a": "told", "b": "b", "c": "told"}


def test_what_ends_the_program_ends_all_of_them_and_the_disk_is_as_before(tmp_path):
    disk, ended = Counting(), []

    class Killed(BaseException):
        pass

    def stands_still():
        try:
            disk.sync(tmp_path)
        finally:
            ended.append("let go")

    def dies():
        raise Killed

    with pytest.raises(Killed):
        abreast(disk).run([stands_still, dies])
    assert ended == ["let go"]
    assert disk.put_off is None
    assert disk.flushed == []


def mounts(tmp_path, kind):
    table = tmp_path / "mounts"
    table.write_text(f"disk / {kind} rw 0 0\n")
    return table


def test_whole_filesystem_is_flushed_in_place_of_each_file(tmp_path):
    disk = Disk()
    calls = []

    class Watched(WholeDisks):
        def flush(self, device):
            calls.append(device)
            super().flush(device)

    with Watched([tmp_path], mounts(tmp_path, "ext4")) as whole:
        tasks = [lambda n=n: disk.write_new(tmp_path / f"{n}.txt", b"x") for n in range(5)]
        Abreast(disk, whole, told_nothing, lambda: None).run(tasks)
    assert calls == [tmp_path.stat().st_dev]


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "overlay", "tmpfs"])
def test_no_whole_flush_where_it_promises_less_than_each_file_s(tmp_path, kind):
    with WholeDisks([tmp_path], mounts(tmp_path, kind)) as whole:
        assert tmp_path.stat().st_dev not in whole


def test_no_whole_flush_on_a_kernel_that_keeps_errors_to_itself(tmp_path, monkeypatch):
    monkeypatch.setattr("gatekeeper.filing.wholedisk._kernel", lambda: (5, 7))
    with WholeDisks([tmp_path], mounts(tmp_path, "ext4")) as whole:
        assert tmp_path.stat().st_dev not in whole


def test_whole_flush_that_waited_for_other_people_s_bytes_is_the_last(tmp_path, monkeypatch):
    monkeypatch.setattr("gatekeeper.filing.wholedisk.LONG_S", -1.0)
    device = tmp_path.stat().st_dev
    with WholeDisks([tmp_path], mounts(tmp_path, "ext4")) as whole:
        assert device in whole
        whole.flush(device)
        assert device not in whole
