"""The vocabulary: units, marker ids, messages, settings, the record, files."""

import json
import os
import stat
from dataclasses import fields, replace
from fractions import Fraction
from pathlib import Path
from string import Formatter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motiffit.errors import FileError, UsageError
from motiffit.files import content_hash, write_whole
from motiffit.marker import marker_id_for, side_mm_of
from motiffit.messages import MESSAGES, text_of
from motiffit.record import (
    Garment,
    Motif,
    PlaneDigest,
    Reference,
    Sides,
    Size,
    Sizing,
    Window,
    make_message,
)
from motiffit.settings import Settings
from motiffit.units import (
    DEFAULT_SIZES_MM,
    MM_PER_INCH,
    format_inches,
    format_length,
    parse_length,
    parse_sizes,
)


def test_the_inch() -> None:
    # 1 in = 25.4 mm and 1 yd = 0.9144 m exactly: international yard and pound agreement, 1959
    # (NIST SP 447 reprints the Federal Register notice; value from memory, agrees with the tables)
    assert parse_length("1 in", "cm") == Fraction(254, 10)
    assert parse_length("36 in", "cm") == Fraction(9144, 10)
    assert parse_length("1/4", "in") == Fraction(635, 100)


@pytest.mark.parametrize(
    ("text", "mm"),
    [("4 1/2 in", 114.3), ("4-1/2in", 114.3), ('4½"', 114.3), ("11.5cm", 115), ("11,5 CM", 115),
     ("100 mm", 100), ("3/4 inch", 19.05), ("0 in", 0), (" 2 inches ", 50.8)],
)  # fmt: skip
def test_lengths_are_read(text: str, mm: float) -> None:
    assert float(parse_length(text, "in")) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text", ["", "in", "4 ft", "-3 in", "1/0 in", "4 1/2 1/2 in", "nan", "1e3"]
)
def test_what_is_no_length_says_so(text: str) -> None:
    with pytest.raises(ValueError, match="not a length"):
        parse_length(text, "in")


@given(st.integers(0, 16 * 80))
def test_sixteenths_survive_print_and_read(steps: int) -> None:
    length = Fraction(steps, 16) * MM_PER_INCH
    assert parse_length(format_inches(length), "cm") == length


@given(st.integers(0, 2000))
def test_millimetres_survive_print_and_read(mm: int) -> None:
    assert parse_length(format_length(mm, "cm"), "in") == mm


def test_curly_inch_signs_are_read() -> None:
    assert parse_length("4 1/2\u201d", "cm") == Fraction(1143, 10)
    assert parse_sizes("3, 4\u201d", "cm") == DEFAULT_SIZES_MM[:2]


@pytest.mark.parametrize("text", ["1,000 mm", "12,000", "3,125 in"])
def test_a_comma_before_three_digits_is_ambiguous(text: str) -> None:
    with pytest.raises(ValueError, match="may be thousands or decimals"):
        parse_length(text, "cm")


def test_size_sets() -> None:
    assert parse_sizes("3,4,5", "in") == DEFAULT_SIZES_MM[:3]
    assert parse_sizes("12, 8 cm", "in") == (80, 120)
    assert parse_sizes("7,5; 10 cm", "cm") == (75, 100)
    with pytest.raises(ValueError, match="zero"):
        parse_sizes("0, 3", "in")
    with pytest.raises(ValueError, match="no size"):
        parse_sizes(" , ", "in")


@given(st.integers(10, 586).filter(lambda i: i != 300))
def test_marker_ids_and_sides_agree(marker_id: int) -> None:
    side = side_mm_of(marker_id)
    assert side is not None
    assert side_mm_of(marker_id_for(side)) == side


@pytest.mark.parametrize("marker_id", [0, 9, 300, 587])
def test_other_ids_tell_no_side(marker_id: int) -> None:
    assert side_mm_of(marker_id) is None


def test_sides_without_an_id() -> None:
    with pytest.raises(ValueError, match="no marker id"):
        marker_id_for(Fraction(1234, 10))


def test_errors_and_warnings_name_a_cure() -> None:
    assert all(kind.cure for kind in MESSAGES.values() if kind.severity != "note")


@pytest.mark.parametrize("code", sorted(MESSAGES))
def test_a_page_names_no_option(code: str) -> None:
    kind = MESSAGES[code]
    names = {name for _, name, _, _ in Formatter().parse(f"{kind.text} {kind.cure}") if name}
    message = make_message(code, **dict.fromkeys(names, 4.0))
    assert " --" not in message.page_text
    assert "(--" not in message.page_text
    assert message.page_text.startswith(message.text[:20])
    assert " --" not in message.picture_text
    assert message.page_text.startswith(message.picture_text)
    assert message.text.startswith(message.picture_text)


def test_a_message_without_its_values_is_a_bug() -> None:
    with pytest.raises(KeyError):
        text_of("cloth-short")


def test_every_setting_changes_the_fingerprint() -> None:
    changed = Settings(
        sizes_mm=(100.0,), seam_allowance_mm=7.5, clearance_mm=5.0, side_mm=100.0, units="cm",
        turn="motif", outline_px=((1.0, 2.0), (3.0, 4.0)),
    )  # fmt: skip
    values = {field.name: getattr(changed, field.name) for field in fields(Settings)}
    values |= {"near_px": (1.0, 2.0), "pick": 2, "no_motif": True, "place": (1.0, 2.0, 3.0)}
    values |= {"outline_sd_mm": 1.0}
    keys = {Settings(**{name: value}).fingerprint() for name, value in values.items()}
    assert len(keys | {Settings().fingerprint()}) == len(fields(Settings)) + 1


@pytest.mark.parametrize(
    "wrong",
    [{"sizes_mm": ()}, {"sizes_mm": (20.0, 10.0)}, {"sizes_mm": (0.0,)}, {"sizes_mm": (9000.0,)},
     {"seam_allowance_mm": -1.0}, {"clearance_mm": float("nan")}, {"side_mm": 1.0},
     {"outline_px": ((1.0, 1.0),)}, {"pick": 0}, {"pick": 1, "near_px": (1.0, 1.0)}],
)  # fmt: skip
def test_settings_that_make_no_sense(wrong: dict[str, object]) -> None:
    with pytest.raises(UsageError):
        Settings(**wrong)  # type: ignore[arg-type]


def make_sizing() -> Sizing:
    square = ((0.0, 0.0), (9.5, 0.25), (9.0, 9.0), (0.0, 9.0))
    sides = Sides(top=1.0, right=2.0, bottom=3.0, left=4.0)
    motif = Motif(
        corners_px=square, centre_mm=(1.0, 2.0), width_mm=90.0, height_mm=80.0, angle_deg=-3.0,
        sd_width_mm=1.0, sd_height_mm=1.5, sd_edges_mm=sides, trust=0.9,
    )  # fmt: skip
    window = Window(
        finished_mm=101.6, finished="4 in", cut_mm=114.3, cut="4 1/2 in", centre_mm=(1.0, 2.0),
        angle_deg=-3.0, seam_corners_px=square, cut_corners_px=square, clearance_mm=sides,
        p_clear=0.98, cloth_short_mm=sides,
    )  # fmt: skip
    return Sizing(
        photo="pïle/ä b.jpg",
        outcome="check",
        messages=(make_message("cloth-short", sides="1/2 in at the top"),),
        reference=Reference(kind="card", side_mm=101.6, corners_px=square),
        plane=PlaneDigest(
            px_to_mm=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), middle_px=(5.0, 5.0),
            tilt_deg=3.0, height_mm=3.0, focal_px=3000.0, distortion=0.0,
        ),
        garment=Garment(outline_px=square, outline_mm=square, upright_deg=2.0),
        motifs=(motif,),
        window=window,
        sizes=(Size(finished_mm=101.6, finished="4 in", least_clearance_mm=5.0, p_clear=0.9,
                    clears=False),),
        settings=Settings(near_px=(3.0, 4.0)),
    )  # fmt: skip


def test_a_record_survives_json() -> None:
    sizing = make_sizing()
    assert Sizing.from_json(sizing.to_json()) == sizing
    bare = replace(
        sizing, window=None, plane=None, garment=None, reference=None, motifs=(), sizes=()
    )
    assert Sizing.from_json(bare.to_json()) == bare


def test_the_record_names_its_schema_and_keys() -> None:
    data = json.loads(make_sizing().to_json())
    assert data["schema"] == "motiffit.sizing/1"
    assert list(data) == [
        "schema", "photo", "outcome", "messages", "reference", "plane", "garment", "motifs",
        "window", "sizes", "settings",
    ]  # fmt: skip


def test_a_record_never_carries_nan() -> None:
    window = make_sizing().window
    assert window is not None
    spoilt = replace(make_sizing(), window=replace(window, p_clear=float("nan")))
    with pytest.raises(ValueError, match="JSON"):
        spoilt.to_json()


@pytest.mark.parametrize("spoil", ["[]", "{}", '{"schema": "other/1"}', "not json"])
def test_what_is_no_record_says_so(spoil: str) -> None:
    with pytest.raises(ValueError, match=r"record|Expecting"):
        Sizing.from_json(spoil)


def test_a_record_with_a_missing_or_foreign_part_is_refused() -> None:
    for part in ("motifs", "window", "settings"):
        data = json.loads(make_sizing().to_json())
        item = data[part][0] if part == "motifs" else data[part]
        item["stray"] = 1
        with pytest.raises(ValueError, match="not a whole record"):
            Sizing.from_dict(data)


def test_files_are_written_whole(tmp_path: Path) -> None:
    target = tmp_path / "a.json"
    write_whole(target, b"one")
    write_whole(target, b"two")
    assert target.read_bytes() == b"two"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


@pytest.mark.skipif(os.name == "nt", reason="no such modes there")
def test_files_are_as_private_as_the_user_wants(tmp_path: Path) -> None:
    before = os.umask(0o077)
    try:
        write_whole(tmp_path / "new.json", b"one")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new.json").stat().st_mode) == 0o600
    (tmp_path / "new.json").chmod(0o640)
    write_whole(tmp_path / "new.json", b"two")
    assert stat.S_IMODE((tmp_path / "new.json").stat().st_mode) == 0o640


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "a.json"
    write_whole(target, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="No space left"):
        write_whole(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot write"):
        write_whole(tmp_path / "no" / "a.json", b"x")


def test_hash_against_the_standard_example(tmp_path: Path) -> None:
    # FIPS 180-2 appendix B.1: SHA-256 of "abc"
    (tmp_path / "abc").write_bytes(b"abc")
    assert content_hash(tmp_path / "abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
