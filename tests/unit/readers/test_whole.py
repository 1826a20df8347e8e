import pytest
from reading import TYPED
from test_choose import CGATS

from gatekeeper.readers.whole import ends_whole


@pytest.mark.parametrize(
    "content",
    [
        TYPED.encode(),
        TYPED.encode("utf-16"),
        TYPED.encode("utf-16-be"),
        TYPED.replace("\n", "\r").encode(),
        CGATS.encode(),
        CGATS.strip().encode(),
        CGATS.encode("utf-16"),
        b'{"job": "1041"}',
        b'\xef\xbb\xbf[{"job": "1041"}]\n',
        b"PK\x03\x04....PK\x05\x06" + bytes(18),
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1016),
    ],
)
def test_a_finished_file_ends_whole(content):
    assert ends_whole(content)


@pytest.mark.parametrize("cut", range(1, len(CGATS) - 1))
def test_no_beginning_of_a_cgats_text_ends_whole(cut):
    # Up to the identification line it is any text whose line has an end.
    beginning = CGATS[:cut].encode()
    assert not ends_whole(beginning) or b"BEGIN_DATA_FORMAT" not in beginning


@pytest.mark.parametrize(
    "content",
    [
        b"",
        TYPED.encode()[:-1],
        TYPED.encode("utf-16-le")[:-2],
        b'{"job": "1041", "patches": [{}',
        b'{"job": {}',
        b"PK\x03\x04" + bytes(100),
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1000),
        b"[" * 100_000,
    ],
)
def test_a_cut_file_does_not(content):
    assert not ends_whole(content)
