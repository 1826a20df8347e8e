"""Which commands site.yaml may name."""

import pytest

from gatekeeper.site import site_of
from gatekeeper.yamlfiles.places import BrokenFilesError


def tell(command, more=""):
    text = f"site: Ferrybank\ntell: {{command: {command}{more}}}\n"
    return site_of("/plates", text.encode()).settings.tell


def test_command_is_a_list_of_arguments():
    found = tell('[/usr/bin/tell, "--job={job}", "{decision}", plain text]', ", limit_s: 5")
    assert found.command == ("/usr/bin/tell", "--job={job}", "{decision}", "plain text")
    assert (found.limit_s, tell("/usr/bin/tell").limit_s) == (5.0, 30.0)


@pytest.mark.parametrize(
    ("command", "name"),
    [
        ("[tell]", "not-a-path"),
        ('["/usr/bin/{job}"]', "command-of-a-sheet"),
        ('[/usr/bin/tell, "--job={jb}"]', "unknown-word"),
        ('[/usr/bin/tell, "{job}"]', "option-of-a-sheet"),
        ('[/usr/bin/tell, "{customer} of {site}"]', "option-of-a-sheet"),
        ("[]", "no-value"),
    ],
)
def test_command_that_would_not_do_what_it_says_is_refused(command, name):
    with pytest.raises(BrokenFilesError) as error:
        tell(command)
    assert [problem.name for problem in error.value.problems] == [name]
