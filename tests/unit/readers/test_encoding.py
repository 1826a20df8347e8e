import pytest

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.encoding import decode, decode_head

TEXT = "customer,Prüfer & Söhne\ntemperature,21 °C\n"


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (TEXT.encode(), "UTF-8"),
        (TEXT.encode("utf-8-sig"), "UTF-8"),
        (TEXT.encode("utf-16"), "UTF-16"),
        (TEXT.encode("utf-16-le"), "UTF-16"),
        (TEXT.encode("utf-16-be"), "UTF-16"),
        (b"\xfe\xff" + TEXT.encode("utf-16-be"), "UTF-16"),
        (TEXT.encode("utf-32"), "UTF-32"),
        (TEXT.encode("windows-1252"), "windows-1252"),
        (TEXT.replace("\n", "\r\n").encode(), "UTF-8"),
        (TEXT.replace("\n", "\r").encode(), "UTF-8"),
        (TEXT.encode() + b"\x1a", "UTF-8"),
    ],
)
def test_the_same_text_comes_out_of_every_encoding_and_line_end(content, encoding):
    assert decode(content, "windows-1252") == (TEXT, encoding)


def test_the_declared_code_page_is_used_and_no_other():
    assert decode("Łódź\n".encode("cp1250"), "cp1250").text == "Łódź\n"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"job,1041\x00\n", "NUL bytes"),
        (b"\x00\x01\x02", "NUL bytes"),
        (b"job,\x1b[31m1041\n", "control character 27"),
        (b"job,1041\x07\n", "control character 7"),
        ("job,10\u009b41\n".encode(), "control character 155"),
        (b"job,\x81\n", "neither UTF-8 nor windows-1252"),
        (b"\xff\xfej\x00o", "neither UTF-8 nor utf-16"),
    ],
)
def test_what_is_not_text_is_refused_with_its_reason(content, says):
    with pytest.raises(UnreadableSheetError) as refused:
        decode(content, "windows-1252")
    assert says in str(refused.value)


def test_the_line_of_a_control_character_is_named():
    with pytest.raises(UnreadableSheetError) as refused:
        decode(b"job,1\r\n\r\nnote,\x07\r\n", "cp1252")
    assert refused.value.where == "line 3"


def test_an_unknown_code_page_is_named():
    with pytest.raises(UnreadableSheetError, match="code page 'cp-none'"):
        decode(b"\xe9", "cp-none")


def test_a_head_cut_inside_a_character_is_still_text():
    content = ("customer,Prüf").encode()[:-2]
    assert decode_head(content, "ascii").startswith("customer,Pr")


def test_a_head_of_a_picture_is_no_text():
    assert decode_head(b"II*\x00\x08\x00\x00\x00\x01\x02", "cp1252") == ""
