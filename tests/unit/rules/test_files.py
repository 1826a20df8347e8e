"""Reading rule files from disk: whatever lies there, nothing is silently no file."""

import os

import pytest

from gatekeeper.rules import files
from gatekeeper.rules.files import built_in_defaults, read_content, read_yaml_files
from gatekeeper.yamlfiles.load import MAX_BYTES, CannotRead, load

FOLDERS = ("workflows/", "customers/")


@pytest.fixture
def site(tmp_path):
    (tmp_path / "workflows").mkdir()
    return tmp_path


def test_yaml_files_are_read_by_their_path_below_the_site(site):
    (site / "customers").mkdir()
    (site / "workflows/b.yaml").write_bytes(b"b")
    (site / "workflows/a.YML").write_bytes(b"a")
    (site / "customers/c.Yaml").write_bytes(b"c")
    assert read_yaml_files(site, FOLDERS) == {
        "workflows/a.YML": b"a",
        "workflows/b.yaml": b"b",
        "customers/c.Yaml": b"c",
    }


@pytest.mark.parametrize(
    "name", [".hidden.yaml", "a.yaml~", "a.yaml.swp", "README.md", "a.yaml.bak"]
)
def test_what_is_no_yaml_file_is_left_alone(site, name):
    (site / "workflows" / name).write_bytes(b"x")
    assert read_yaml_files(site, FOLDERS) == {}


def test_folder_named_like_a_file_and_a_pipe_are_left_alone(site):
    (site / "workflows/folder.yaml").mkdir()
    os.mkfifo(site / "workflows/pipe.yaml")
    (site / "workflows/dangling.yaml").symlink_to("nowhere")
    assert read_yaml_files(site, FOLDERS) == {}


def test_folder_that_is_a_file_is_told_and_not_taken_for_empty(site):
    (site / "customers").write_bytes(b"")
    assert read_yaml_files(site, FOLDERS) == {"customers/": CannotRead("Not a directory")}


def test_no_more_of_a_file_is_read_than_is_needed_to_refuse_it(site):
    path = site / "workflows/a.yaml"
    with path.open("wb") as file:
        file.truncate(50 * MAX_BYTES)
    assert len(read_yaml_files(site, FOLDERS)["workflows/a.yaml"]) == MAX_BYTES + 1


def test_name_that_is_no_text_is_shown_as_text(site):
    (site / "workflows" / os.fsdecode(b"m\xfcller.yaml")).write_bytes(b"x")
    assert list(read_yaml_files(site, FOLDERS)) == ["workflows/m\\xfcller.yaml"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_file_without_permission_is_told(site):
    path = site / "workflows/a.yaml"
    path.write_bytes(b"x")
    path.chmod(0)
    assert read_yaml_files(site, FOLDERS) == {"workflows/a.yaml": CannotRead("Permission denied")}


class Fails:
    """A path whose file cannot be opened, for whatever reason."""

    def __init__(self, error):
        self.error = error

    def is_file(self):
        return True

    def open(self, mode):
        assert mode == "rb"
        raise self.error


def test_file_that_cannot_be_opened_is_told():
    assert read_content(Fails(PermissionError(13, "Permission denied"))) == CannotRead(
        "Permission denied"
    )
    assert read_content(Fails(OSError(5, "Input/output error"))) == CannotRead("Input/output error")


def test_file_that_was_removed_in_between_is_no_file():
    assert read_content(Fails(FileNotFoundError(2, "No such file"))) is None


def test_defaults_are_two_blocks_with_places():
    always, where_used = built_in_defaults()
    assert "freshness" in always.entries
    assert where_used.entries["film"].entries["max_days_past_expiry"].place.file == "defaults.yaml"


def test_defaults_of_another_shape_are_a_fault_of_the_program(monkeypatch):
    built_in_defaults.cache_clear()
    flat = load(b"always: 1\nwhere_used: {}\n", "defaults.yaml")
    monkeypatch.setattr(files, "load", lambda *_: flat)
    with pytest.raises(TypeError, match=r"defaults\.yaml"):
        built_in_defaults()
    built_in_defaults.cache_clear()
