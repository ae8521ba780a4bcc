"""Which photos show the same garment, and what a table says of them."""

import pytest
import records

from motiffit.corrections import Corrections
from motiffit.errors import FileError
from motiffit.garments import (
    TABLE_NAME,
    TableRow,
    garment_name,
    heed_table,
    read_table,
    rows_of,
    table_news,
)
from motiffit.ledger import Ledger
from motiffit.renamed import follow_renamed

NAMES = ("romper-front.jpg", "romper-back.jpg", "Bib.JPG", "IMG_1.jpg")


@pytest.fixture
def ledger(tmp_path):
    for name in NAMES:
        (tmp_path / name).write_bytes(name.encode())
    return Ledger.open(tmp_path)


def write_table(ledger, text, encoding="utf-8"):
    (ledger.folder / TABLE_NAME).write_bytes(text.encode(encoding))


@pytest.mark.parametrize(
    ("photo", "garment"),
    [
        ("romper-front.jpg", "romper"), ("romper back.jpg", "romper"),
        ("romper_BACK 2.jpg", "romper"),
        ("romper (detail).jpg", "romper"), ("blue romper-again.jpg", "blue romper"),
        ("IMG_1.jpg", "IMG_1"), ("IMG_2.jpg", "IMG_2"), ("front.jpg", "front"),
        ("upfront.jpg", "upfront"), ("dress.front.jpg", "dress"), ("inside out.jpg", "inside out"),
        ("20240101_120000.jpg", "20240101_120000"),
    ],
)  # fmt: skip
def test_garment_by_the_files_name(photo, garment):
    assert garment_name(photo) == garment


@pytest.mark.parametrize(
    ("photo", "garment"), [("a_b_1.jpg", "a_b"), ("a.jpg", "a"), ("_x.jpg", "_x"), ("a_.jpg", "a")]
)
def test_garment_by_a_separator(photo, garment):
    assert garment_name(photo, separator="_") == garment


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        ("photo,garment,note,keep\nIMG_1.jpg,h\u00e4ubchen,zip,yes\n", "utf-8"),
        ("photo,garment,note,keep\r\nIMG_1.jpg,h\u00e4ubchen,zip,Yes\r\n", "utf-8-sig"),
        ("Photo;Garment;Note;Keep\nIMG_1.jpg;h\u00e4ubchen;zip;x\n", "cp1252"),
        ("keep\tphoto\tgarment\tnote\textra\n1\tIMG_1.jpg\t h\u00e4ubchen \tzip\tmore\n", "utf-8"),
        ('photo,garment,note,keep\n"IMG_1.jpg","h\u00e4ubchen","zip","TRUE"\n\n,,,\n', "utf-8"),
    ],
)
def test_tables_as_spreadsheets_save_them(ledger, text, encoding):
    write_table(ledger, text, encoding)
    table = read_table(ledger.folder / TABLE_NAME)
    assert table == {"IMG_1.jpg": TableRow(garment="h\u00e4ubchen", note="zip", keep=True)}


@pytest.mark.parametrize(
    ("text", "words"),
    [("name,garment\na.jpg,x\n", "column named 'photo'"), ("", "column named 'photo'"),
     ("photo,keep\na.jpg,maybe\n", "line 2.*yes or no, not 'maybe'")],
)  # fmt: skip
def test_table_that_cannot_be_meant_says_what_is_wrong(ledger, text, words):
    write_table(ledger, text)
    with pytest.raises(FileError, match=words):
        heed_table(ledger)


def test_table_becomes_a_persons_word(ledger):
    write_table(
        ledger, 'photo,garment,note,keep\nimg_1,Tom,"zipper; press-studs, of Aunt May",no\n'
    )
    assert heed_table(ledger) == ()
    said = ledger.said("IMG_1.jpg")
    assert (said.garment, said.note, said.keep) == ("Tom", "of Aunt May", False)
    assert said.flags == ("zip", "snaps")
    assert said.stamps["garment"].by == TABLE_NAME


def test_names_that_are_not_there_are_told(ledger):
    write_table(ledger, "photo,garment\nBIB.jpg,bib\nbibb.jpg,bib\n")
    assert heed_table(ledger) == ("bibb.jpg",)
    assert ledger.said("Bib.JPG").garment == "bib"


def test_name_without_ending_must_be_clear(ledger):
    (ledger.folder / "IMG_1.png").write_bytes(b"x")
    write_table(ledger, "photo,garment\nIMG_1,shirt\nbib,bib\n")
    assert heed_table(ledger) == ("IMG_1",)
    assert ledger.said("Bib.JPG").garment == "bib"


def test_later_word_wins_between_table_and_page(ledger):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,from table,zip\n")
    heed_table(ledger)
    ledger.tell("IMG_1.jpg", {"garment": "from page", "zip": False}, by="review")
    heed_table(ledger)
    assert ledger.said("IMG_1.jpg").garment == "from page", "the table said nothing new"
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,table again,zip\n")
    heed_table(ledger)
    said = ledger.said("IMG_1.jpg")
    assert said.garment == "table again"
    assert said.zip is False, "the note did not change"


def test_word_taken_out_of_the_table_is_taken_back(ledger):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,vinyl\n")
    heed_table(ledger)
    (ledger.folder / TABLE_NAME).unlink()
    heed_table(ledger)
    said = ledger.said("IMG_1.jpg")
    assert (said.garment, said.vinyl) == (None, None)


def test_emptied_cell_leaves_what_the_page_said_later(ledger):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,zip\n")
    heed_table(ledger)
    ledger.tell("IMG_1.jpg", {"garment": "from page"}, by="review")
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,,\n")
    heed_table(ledger)
    said = ledger.said("IMG_1.jpg")
    assert (said.garment, said.zip) == ("from page", None)


def test_photo_missing_for_one_run_loses_no_word(ledger, tmp_path):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,soft\n")
    heed_table(ledger)
    told = ledger.tell("IMG_1.jpg", {"note": "from page"}, by="review")
    away = tmp_path / "motiffit" / "away"
    (tmp_path / "IMG_1.jpg").rename(away)
    assert heed_table(ledger) == ("IMG_1.jpg",)
    assert ledger.said("IMG_1.jpg") == told
    away.rename(tmp_path / "IMG_1.jpg")
    heed_table(ledger)
    assert ledger.said("IMG_1.jpg") == told, "the table said nothing new"


def test_table_written_while_the_photo_was_missing_is_heeded_when_it_is_back(ledger, tmp_path):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,soft\n")
    heed_table(ledger)
    away = tmp_path / "motiffit" / "away"
    (tmp_path / "IMG_1.jpg").rename(away)
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,bib,\n")
    heed_table(ledger)
    away.rename(tmp_path / "IMG_1.jpg")
    heed_table(ledger)
    said = ledger.said("IMG_1.jpg")
    assert (said.garment, said.note) == ("bib", None)


def test_line_renamed_along_with_its_photo_says_nothing_new(ledger, tmp_path):
    photo_hash = ledger.hash_of("IMG_1.jpg")
    sizing = records.make_sizing(records.Case(photo="IMG_1.jpg"))
    ledger.write("IMG_1.jpg", sizing, photo_hash=photo_hash, settings=sizing.settings)
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,soft\n")
    heed_table(ledger)
    ledger.tell("IMG_1.jpg", {"note": "from page"}, by="review")
    (tmp_path / "IMG_1.jpg").rename(tmp_path / "fox.jpg")
    write_table(ledger, "photo,garment,note\nfox.jpg,romper,soft\n")
    follow_renamed(ledger)
    heed_table(ledger)
    said = ledger.said("fox.jpg")
    assert (said.garment, said.note) == ("romper", "from page")


def test_news_are_told_without_being_noted(ledger):
    write_table(ledger, "photo,garment,note\nIMG_1.jpg,romper,zip\n")
    news = {"IMG_1.jpg": {"garment": "romper", "zip": True}}
    assert table_news(ledger) == news
    assert ledger.said("IMG_1.jpg") == Corrections()
    heed_table(ledger)
    assert table_news(ledger) == {}


def test_no_table_says_nothing(ledger):
    assert heed_table(ledger) == ()
    assert not (ledger.home / "garments.json").exists()


def test_huge_file_is_no_table(ledger):
    write_table(ledger, "photo\n" + "x" * 5_000_001)
    with pytest.raises(FileError, match="too large"):
        heed_table(ledger)


def test_lines_of_the_table_find_their_photos():
    table = {name: TableRow(garment=name) for name in ("A.JPG", "bib", "sock.png", "moon")}
    photos = ("a.jpg", "bib.heic", "sock.jpg", "sock.png", "moon.jpg", "moon.png")
    found = rows_of(table, photos)
    # 'moon' may be either of two photos, and names none
    assert {photo: row.garment for photo, row in found.items()} == {
        "a.jpg": "A.JPG",
        "bib.heic": "bib",
        "sock.png": "sock.png",
    }
