"""HEIC files whose names are no text are refused before the decoder can fall over them."""

import subprocess
import sys
from pathlib import Path

import pytest

from motiffit.errors import Refusal
from motiffit.measure.heif import check_heif
from motiffit.sizing import size_photo

WHOLE = (Path(__file__).parent / "photos" / "quarters.heic").read_bytes()


def with_item(kind, texts=b""):
    """Return the file with its second item, the camera data, of another type."""
    start = WHOLE.index(b"infe", WHOLE.index(b"infe") + 4)
    length = int.from_bytes(WHOLE[start - 4 : start], "big")
    item = WHOLE[start : start + 12] + kind + b"\0" + texts
    spoilt = bytearray(WHOLE)
    spoilt[start - 4 : start - 4 + length] = (len(item) + 4).to_bytes(4, "big") + item
    for box in (b"iinf", b"meta"):
        at = spoilt.index(box) - 4
        grown = int.from_bytes(spoilt[at : at + 4], "big") + len(item) + 4 - length
        spoilt[at : at + 4] = grown.to_bytes(4, "big")
    return bytes(spoilt)


@pytest.mark.parametrize(
    "content", [with_item(b"Ex\xfff"), with_item(b"\xffxif"), with_item(b"mime", b"app\xff\xfe\0")]
)
def test_item_whose_name_is_no_text_is_refused(tmp_path, content):
    with pytest.raises(Refusal):
        check_heif(content)
    # in a process of its own: the decoder would end this one
    path = tmp_path / "a.heic"
    path.write_bytes(content)
    script = "import sys; from motiffit.sizing import size_photo; " \
             "print(size_photo(sys.argv[1]).messages[0].code)"  # fmt: skip
    told = subprocess.run([sys.executable, "-c", script, str(path)], capture_output=True, text=True)
    assert (told.returncode, told.stdout) == (0, "photo-unreadable\n")


@pytest.mark.parametrize(
    "content",
    [WHOLE, with_item(b"Exif"), with_item(b"mime", b"application/rdf+xml\0"), b"", WHOLE[:300],
     b"\0\0\0\1meta" + b"\xff" * 20, b"\0\0\0\0meta", WHOLE.replace(b"meta", b"\xffeta")],
)  # fmt: skip
def test_other_files_are_left_to_the_decoder(content):
    check_heif(content)


def test_names_outside_the_table_do_not_matter():
    # the pixels of a photo may hold any bytes
    check_heif(WHOLE + b"infe\x02\0\0\0\0\1\0\0\xff\xff\xff\xff")


def test_whole_file_is_still_read(tmp_path):
    (tmp_path / "a.heic").write_bytes(WHOLE)
    assert size_photo(tmp_path / "a.heic").messages[0].code == "no-reference"
