"""Files of an administrator that must be refused, each with the exact message beside it.

A folder holds files of one kind, `<case>.yaml`, and beside each what `rules check` prints,
`<case>.txt`.
They are read together with the good files of `good/`. When a message differs, the new one is left
beside the old one, with `.new` behind its name, and the difference is printed.
"""

import difflib
from pathlib import Path

import pytest

from gatekeeper.room import YAML_FOLDERS, book_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.site import read_site, site_of
from gatekeeper.yamlfiles.places import BrokenFilesError

HERE = Path(__file__).parent
KINDS = ("customers", "register", "site", "workflows")
CASES = [path for kind in KINDS for path in sorted((HERE / kind).glob("*.yaml"))]


def compare(gold, text):
    new = gold.with_name(gold.name + ".new")
    old = gold.read_text("utf-8") if gold.exists() else ""
    if text == old:
        new.unlink(missing_ok=True)
        return
    new.write_text(text, "utf-8")
    lines = difflib.unified_diff(old.splitlines(), text.splitlines(), str(gold), str(new), "", "")
    pytest.fail("\n".join(lines), pytrace=False)


def problems_of(path):
    good = read_site(HERE / "good")
    content = path.read_bytes()
    if path.parent.name == "site":
        with pytest.raises(BrokenFilesError) as refused:
            site_of(good.root, content)
        return refused.value.problems
    files = read_yaml_files(good.root, YAML_FOLDERS)
    return book_of(good, {**files, f"{path.parent.name}/{path.name}": content}).problems


@pytest.mark.parametrize("path", CASES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_file_is_refused_with_the_message_beside_it(path):
    text = "".join(f"{problem}\n" for problem in problems_of(path))
    assert "  do     " in text
    compare(path.with_suffix(".txt"), text)


def test_good_files_beside_them_have_no_problem():
    site = read_site(HERE / "good")
    assert book_of(site, read_yaml_files(site.root, YAML_FOLDERS)).problems == ()


@pytest.mark.parametrize("kind", KINDS)
def test_every_message_belongs_to_a_file(kind):
    told = {path.stem for path in (HERE / kind).glob("*.txt")}
    assert told == {path.stem for path in CASES if path.parent.name == kind}
