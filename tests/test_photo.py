"""Reading photos: formats, orientation, camera data, and files that are broken."""

import hashlib
import os
import struct
import warnings
import zlib
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageFile, ImageOps
from scenes import save_photo

from motiffit.errors import Refusal
from motiffit.measure import photo as photo_module
from motiffit.measure.photo import LIMIT_MEGABYTES, read_photo
from motiffit.messages import text_of

PHOTOS = Path(__file__).parent / "photos"
QUARTERS = ((200, 30, 30), (30, 180, 30), (30, 30, 200), (250, 250, 250))
JPEG_LEVELS = 12  # grey levels by which JPEG, WebP and HEIC may miss a flat colour


def quarters(width: int = 321, height: int = 243) -> NDArray[np.uint8]:
    """Red, green, blue and white quarters: any turn or mirror image looks different."""
    picture = np.zeros((height, width, 3), np.uint8)
    half_x, half_y = width // 2, height // 2
    picture[:half_y, :half_x], picture[:half_y, half_x:] = QUARTERS[0], QUARTERS[1]
    picture[half_y:, :half_x], picture[half_y:, half_x:] = QUARTERS[2], QUARTERS[3]
    return picture


def assert_shows_quarters(picture: NDArray[np.uint8]) -> None:
    height, width = picture.shape[:2]
    spots = [(x, y) for y in (height // 5, height - 20) for x in (width // 5, width - 20)]
    for (x, y), colour in zip(spots, QUARTERS, strict=True):
        assert np.abs(picture[y, x].astype(int) - colour).max() <= JPEG_LEVELS


def test_quarters_are_told_apart() -> None:
    with pytest.raises(AssertionError):
        assert_shows_quarters(quarters()[::-1])


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("size", [(321, 243), (3300, 2200)])  # decoded whole, and reduced
def test_orientation_is_applied(tmp_path: Path, orientation: int, size: tuple[int, int]) -> None:
    path = save_photo(quarters(*size), tmp_path / "a.jpg", orientation=orientation)
    photo = read_photo(path)
    assert (photo.width_px, photo.height_px) == size
    assert_shows_quarters(photo.picture)
    # Pillow's own reading of the tag, as a second opinion
    with Image.open(path) as stored:
        shown = np.asarray(ImageOps.exif_transpose(stored))
    assert shown.shape[:2] == (photo.height_px, photo.width_px)
    assert_shows_quarters(shown)


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tiff"])
def test_formats_are_read(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a.{suffix}"
    Image.fromarray(quarters()).save(path)
    assert_shows_quarters(read_photo(path).picture)


def test_heic_is_read_and_turned() -> None:
    photo = read_photo(PHOTOS / "quarters.heic")
    assert (photo.width_px, photo.height_px) == (320, 240)
    assert_shows_quarters(photo.picture)
    assert photo.focal_35mm == 26.0


def test_content_decides_not_the_name(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    Image.fromarray(quarters()).save(path, format="JPEG", quality=92)
    assert_shows_quarters(read_photo(path).picture)
    heic = tmp_path / "b.jpg"
    heic.write_bytes((PHOTOS / "quarters.heic").read_bytes())
    assert_shows_quarters(read_photo(heic).picture)


@pytest.mark.parametrize(("suffix", "orientation"), [("jpg", 1), ("jpg", 8), ("png", 1)])
def test_reduced_decoding_keeps_places(tmp_path: Path, suffix: str, orientation: int) -> None:
    # a soft upright edge at a known full pixel, far from the middle
    edge_px, soft_px = 2711.3, 5.0
    x = np.arange(3600)
    ramp = 255 / (1 + np.exp(-(x - edge_px) / soft_px))
    picture = np.broadcast_to(ramp[None, :, None], (2000, 3600, 3)).round().astype(np.uint8)
    path = save_photo(picture, tmp_path / f"a.{suffix}", orientation=orientation)
    photo = read_photo(path)
    assert photo.full_per_px == 2
    row = photo.picture[300:700].mean(axis=(0, 2))
    after = int(np.argmax(row > 127.5))
    share = (127.5 - row[after - 1]) / (row[after] - row[after - 1])
    found_px = photo.to_full(np.array([[after - 1 + share, 0.0]]))[0, 0]
    assert found_px == pytest.approx(edge_px, abs=0.05)  # half a pixel would be a wrong centre


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(
    ("suffix", "size", "step"),
    [("jpg", (3307, 403), 2), ("png", (3307, 403), 2), ("jpg", (6406, 407), 4)],
)
def test_sides_that_do_not_divide_keep_places(
    tmp_path: Path, orientation: int, suffix: str, size: tuple[int, int], step: int
) -> None:
    # one soft edge across and one down, told as the brightness of red and of green
    edges_px, soft_px = np.array([2411.3, 257.6]), 8.0
    ramps = [
        255 / (1 + np.exp(-(np.arange(side) - edge) / soft_px))
        for side, edge in zip(size, edges_px, strict=True)
    ]
    red, green = np.broadcast_arrays(ramps[0][None, :], ramps[1][:, None])
    picture = np.dstack([red, green, np.full_like(red, 99)]).round().astype(np.uint8)
    picture[:, -1] = picture[-1] = 0  # a line that would show wherever it were put
    path = save_photo(picture, tmp_path / f"a.{suffix}", orientation=orientation, quality=98)
    photo = read_photo(path)
    assert (photo.width_px, photo.height_px) == size
    assert photo.full_per_px == step
    assert photo.picture.shape == (size[1] // step, size[0] // step, 3)
    across = photo.picture[20:50, :, 0].mean(axis=0)
    down = photo.picture[:, 20:50, 1].mean(axis=1)
    found = photo.to_full(np.array([[half_way(across), half_way(down)]]))[0]
    # JPEG rounds all rows alike; a picture that starts one pixel off would be off by one
    assert found == pytest.approx(edges_px, abs=0.2)


def half_way(levels: NDArray[np.float64]) -> float:
    """Where levels that rise from 0 to 255 cross the middle."""
    after = int(np.argmax(levels > 127.5))
    return after - 1 + float((127.5 - levels[after - 1]) / (levels[after] - levels[after - 1]))


@pytest.mark.parametrize(
    ("size", "step"), [((4031, 3023), 2), ((12001, 9000), 4), ((3199, 900), 1), ((901, 12801), 8)]
)
def test_an_odd_side_does_not_keep_from_reducing(size: tuple[int, int], step: int) -> None:
    assert photo_module._reduction(size) == step


def test_full_and_reduced_pixels_round_trip(tmp_path: Path) -> None:
    photo = read_photo(save_photo(quarters(3300, 2200), tmp_path / "a.jpg"))
    points = np.array([[0.0, 0.0], [3299.0, 2199.0], [17.25, 400.5]])
    np.testing.assert_allclose(photo.to_full(photo.to_picture(points)), points, atol=1e-9)
    # the first decoded pixel covers full pixels 0 and 1
    np.testing.assert_allclose(photo.to_full(np.zeros((1, 2))), [[0.5, 0.5]])


@pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA", "PA", "CMYK", "I;16", "I", "F"])
@pytest.mark.parametrize("size", [(320, 240), (3300, 240)])  # decoded whole, and reduced
def test_modes_become_rgb(tmp_path: Path, mode: str, size: tuple[int, int]) -> None:
    grey = np.full(size[::-1], 40, np.uint8)
    grey[:, size[0] // 2 :] = 220
    if mode in ("I;16", "I"):
        image = Image.fromarray((grey.astype(np.uint16) * 257).astype(np.uint16))
        image = image if mode == "I;16" else image.convert("I")
    elif mode == "F":
        image = Image.fromarray(grey.astype(np.float32))
    elif mode == "1":
        image = Image.fromarray(grey > 127)
    else:
        image = Image.fromarray(grey).convert("RGBA" if mode == "PA" else mode)
        image = image.convert("P") if mode == "PA" else image
    path = tmp_path / ("a.png" if mode not in ("CMYK", "F", "I") else "a.tiff")
    image.save(path)
    photo = read_photo(path)
    picture, step = photo.picture, round(photo.full_per_px)
    assert step == (1 if size == (320, 240) else 2)
    assert picture.shape == (size[1] // step, size[0] // step, 3)
    assert picture.dtype == np.uint8
    left, right = (0, 255) if mode == "1" else (40, 220)
    assert picture[100, 50] == pytest.approx([left] * 3, abs=3)
    assert picture[100, -50] == pytest.approx([right] * 3, abs=3)


def test_cmyk_jpeg_keeps_its_colours(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    Image.fromarray(quarters()).convert("CMYK").save(path, quality=92)
    assert b"Adobe" in path.read_bytes()[:400]  # such files hold inverted ink
    assert_shows_quarters(read_photo(path).picture)


def test_transparent_parts_become_white(tmp_path: Path) -> None:
    picture = np.dstack([quarters(), np.full((243, 321), 255, np.uint8)])
    picture[:, :100, 3] = 0
    path = tmp_path / "a.png"
    Image.fromarray(picture).save(path)
    shown = read_photo(path).picture
    assert (shown[:, :100] == 255).all()
    np.testing.assert_array_equal(shown[:, 100:], quarters()[:, 100:])


def test_photo_is_read_only_and_hashed(tmp_path: Path) -> None:
    path = save_photo(quarters(), tmp_path / "a.jpg")
    photo = read_photo(path)
    assert photo.content_hash == hashlib.sha256(path.read_bytes()).hexdigest()
    with pytest.raises(ValueError, match="read-only"):
        photo.picture[0, 0] = 0


def save_with_exif(path: Path, tags: dict[ExifTags.Base, object]) -> Path:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif).update(tags)
    Image.fromarray(quarters(400, 300)).save(path, exif=exif)
    return path


B = ExifTags.Base


@pytest.mark.parametrize(
    ("tags", "focal_mm"),
    [
        ({B.FocalLengthIn35mmFilm: 26}, 26.0),
        ({B.FocalLengthIn35mmFilm: 0}, None),  # the standard's "unknown"
        ({B.FocalLengthIn35mmFilm: 177}, None),  # an iPhone 8 at 640 x 480, domain notes 3.4
        ({B.FocalLengthIn35mmFilm: 13}, None),  # ultrawide: strong distortion
        ({B.FocalLengthIn35mmFilm: 26, B.DigitalZoomRatio: 2.0}, None),
        ({B.FocalLengthIn35mmFilm: 26, B.DigitalZoomRatio: 1.0}, 26.0),
        # made smaller: the angle of view stays; cropped: it does not
        ({B.FocalLengthIn35mmFilm: 26, B.ExifImageWidth: 4000, B.ExifImageHeight: 3000}, 26.0),
        ({B.FocalLengthIn35mmFilm: 26, B.ExifImageWidth: 3000, B.ExifImageHeight: 4000}, 26.0),
        ({B.FocalLengthIn35mmFilm: 26, B.ExifImageWidth: 4000, B.ExifImageHeight: 4000}, None),
        ({}, None),
    ],
)
def test_focal_length_is_believed_within_reason(
    tmp_path: Path, tags: dict[ExifTags.Base, object], focal_mm: float | None
) -> None:
    assert read_photo(save_with_exif(tmp_path / "a.jpg", tags)).focal_35mm == focal_mm


@pytest.mark.parametrize(
    ("tags", "rivals_mm"),
    [
        ({B.FocalLengthIn35mmFilm: 26}, ()),
        ({B.FocalLengthIn35mmFilm: 77}, (77.0,)),  # a phone's third camera
        ({B.FocalLengthIn35mmFilm: 13}, (13.0,)),
        ({B.FocalLengthIn35mmFilm: 177}, ()),  # no phone's lens
        # makers differ in whether the focal length counts digital zoom
        ({B.FocalLengthIn35mmFilm: 26, B.DigitalZoomRatio: 2.0}, (26.0, 52.0)),
        ({B.FocalLengthIn35mmFilm: 52, B.ExifImageWidth: 4000, B.ExifImageHeight: 4000}, ()),
        ({}, ()),
    ],
)
def test_focal_lengths_that_only_the_square_can_confirm(
    tmp_path: Path, tags: dict[ExifTags.Base, object], rivals_mm: tuple[float, ...]
) -> None:
    assert read_photo(save_with_exif(tmp_path / "a.jpg", tags)).focal_rivals_35mm == rivals_mm


def test_focal_length_of_a_real_phone_photo() -> None:
    # iPhone 11, 26 mm by its own Exif data (read with another program, domain notes 3.4)
    assert read_photo(PHOTOS / "singlemarkersoriginal.jpg").focal_35mm == 26.0


def test_tag_numbers_are_those_of_exif() -> None:
    # Exif 2.3 (CIPA DC-008); Pillow's table is the second source
    assert photo_module._ORIENTATION == 0x0112 == ExifTags.Base.Orientation
    assert photo_module._FOCAL_35MM == 0xA405 == ExifTags.Base.FocalLengthIn35mmFilm
    assert photo_module._ZOOM == 0xA404 == ExifTags.Base.DigitalZoomRatio
    assert photo_module._WIDTH == 0xA002 == ExifTags.Base.ExifImageWidth
    assert photo_module._HEIGHT == 0xA003 == ExifTags.Base.ExifImageHeight
    assert photo_module._EXIF_IFD == 0x8769 == ExifTags.IFD.Exif


def test_broken_camera_data_does_no_harm(tmp_path: Path) -> None:
    exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x05" + bytes(range(60))
    path = tmp_path / "a.jpg"
    Image.fromarray(quarters()).save(path, exif=exif, quality=92)
    photo = read_photo(path)
    assert photo.focal_35mm is None
    assert_shows_quarters(photo.picture)


def refusal_code(path: Path) -> str:
    with pytest.raises(Refusal) as caught:
        read_photo(path)
    # the message can be written: all its placeholders have values
    from motiffit.record import make_message

    assert make_message(caught.value.code, **caught.value.details).severity == "error"
    return caught.value.code


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tiff"])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_cut_off_files_are_refused(tmp_path: Path, suffix: str, share: float) -> None:
    rng = np.random.default_rng(5)
    noisy = rng.integers(0, 255, (300, 400, 3), dtype=np.uint8)
    whole = BytesIO()
    Image.fromarray(noisy).save(whole, format={"jpg": "JPEG"}.get(suffix, suffix.upper()))
    path = tmp_path / f"a.{suffix}"
    path.write_bytes(whole.getvalue()[: int(share * len(whole.getvalue()))])
    assert refusal_code(path) in ("photo-truncated", "photo-unreadable")
    if suffix in ("jpg", "png"):
        assert refusal_code(path) == "photo-truncated"


def test_cut_off_heic_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.heic"
    path.write_bytes((PHOTOS / "quarters.heic").read_bytes()[:700])
    assert refusal_code(path) in ("photo-truncated", "photo-unreadable")


def test_bytes_in_disorder_never_escape_as_another_error(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    sources = [(PHOTOS / "quarters.heic").read_bytes(), (PHOTOS / "left01.jpg").read_bytes()]
    for suffix in ("png", "webp", "tiff"):
        whole = BytesIO()
        Image.fromarray(quarters()).save(whole, format=suffix.upper())
        sources.append(whole.getvalue())
    path = tmp_path / "a.bin"
    outcomes = []
    for content in sources:
        for _ in range(25):
            spoiled = bytearray(content)
            for place in rng.integers(0, min(len(spoiled), 1500), 12):
                spoiled[place] = rng.integers(0, 256)
            path.write_bytes(bytes(spoiled))
            try:
                outcomes.append(read_photo(path).picture.ndim)
            except Refusal:
                outcomes.append(0)
    assert 0 in outcomes  # the bytes did matter


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "photo-empty"),
        (b"just words", "photo-unreadable"),
        (b"GIF89a" + bytes(50), "photo-format"),
        (b"%PDF-1.7" + bytes(50), "photo-format"),
        (b"\0\0\0\x20ftypavif" + bytes(50), "photo-format"),
        (b"\xff\xd8\xff\xe0", "photo-truncated"),
        (b"\0\0\0\x20ftypheic" + bytes(50), "photo-unreadable"),
    ],
)
def test_what_is_no_photo_is_refused(tmp_path: Path, content: bytes, code: str) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    assert refusal_code(path) == code


def test_missing_files_and_folders_are_refused(tmp_path: Path) -> None:
    assert refusal_code(tmp_path / "none.jpg") == "photo-missing"
    assert refusal_code(tmp_path) == "file-denied"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
def test_pipes_and_devices_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.jpg")  # reading would wait for a writer for ever
    assert refusal_code(tmp_path / "a.jpg") == "photo-unreadable"
    assert refusal_code(Path("/dev/zero")) == "photo-unreadable"  # reading would never end


def test_names_that_no_file_can_have_are_refused() -> None:
    assert refusal_code(Path("a\0b.jpg")) == "photo-missing"


def test_a_forbidden_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def deny(*_: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    path = save_photo(quarters(), tmp_path / "a.jpg")
    monkeypatch.setattr(Path, "open", deny)  # the tests may run as one who may read all
    assert refusal_code(path) == "file-denied"


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""
    body = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    header = struct.pack(">I", 13) + body + struct.pack(">I", zlib.crc32(body))
    data = b"IDAT" + zlib.compress(bytes(10))
    return (
        b"\x89PNG\r\n\x1a\n"
        + header
        + struct.pack(">I", len(data) - 4)
        + data
        + struct.pack(">I", zlib.crc32(data))
    )


@pytest.mark.parametrize("side", [11_000, 13_500, 60_000])  # Pillow warns at 9460, errs at 13379
def test_huge_pictures_are_refused_before_decoding(tmp_path: Path, side: int) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png_header(side, side))
    assert refusal_code(path) == "photo-too-many-pixels"


def test_huge_files_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.touch()
    os.truncate(path, int(LIMIT_MEGABYTES * 1e6) + 1)
    with pytest.raises(Refusal) as caught:
        read_photo(path)
    text = text_of(caught.value.code, **caught.value.details)
    assert "200.0 MB" in text
    assert "pixels" not in text
    assert refusal_code(path) == "photo-too-large"


def test_bytes_of_a_file_cannot_steer_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(b"\0\0\0\x18ftyp\x1b[2J" + bytes(50))
    with pytest.raises(Refusal) as caught:
        read_photo(path)
    text = text_of(caught.value.code, **caught.value.details)
    assert "the format ?[2J are" in text


def test_previews_are_refused(tmp_path: Path) -> None:
    assert refusal_code(save_photo(quarters(160, 120), tmp_path / "a.jpg")) == "photo-too-small"


def test_nothing_global_is_left_changed() -> None:
    before = (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES, list(warnings.filters))
    read_photo(PHOTOS / "quarters.heic")
    after = (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES, list(warnings.filters))
    assert after == before
    assert "HEIF" not in Image.OPEN
