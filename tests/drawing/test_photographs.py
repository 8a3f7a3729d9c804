"""What is kept of a picture is what it shows, and nothing that its file had beside; what harms is refused."""

import io

import photographs
import pytest
from PIL import Image

from bot.drawing.photograph import LONGEST_SIDE, NotKept, plain


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg))


@pytest.mark.parametrize(
    ("given", "sides"),
    [
        (photographs.told_too_much(), (640, 480)),
        (photographs.told_too_much(orientation=6), (480, 640)),  # taken upright: turned as it is to be seen
        (photographs.png_with_words(), (640, 480)),
        (photographs.file_of("WEBP"), (640, 480)),
        (photographs.file_of("GIF"), (640, 480)),
        (photographs.file_of("PNG", photographs.shown().convert("P")), (640, 480)),
        (photographs.file_of("JPEG", photographs.shown().convert("CMYK")), (640, 480)),
        (photographs.file_of("JPEG", photographs.shown().convert("L"), progressive=True), (640, 480)),
        (photographs.file_of("JPEG", photographs.shown((4000, 3000))), (LONGEST_SIDE, 1200)),
        (photographs.file_of("PNG", photographs.shown((300, 4000))), (120, LONGEST_SIDE)),
        # Several in one file, as some phones take them: the first.
        (
            photographs.file_of("MPO", save_all=True, append_images=[photographs.shown((64, 48))]),
            (640, 480),
        ),
    ],
    ids=lambda given: str(len(given)) if isinstance(given, bytes) else str(given),
)
def test_nothing_but_the_picture_stays(given: bytes, sides: tuple[int, int]) -> None:
    made = plain(given)
    kept = opened(made.jpeg)
    assert (kept.format, kept.size, (made.wide, made.high)) == ("JPEG", sides, sides)
    assert dict(kept.getexif()) == {} and set(kept.info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
    }
    assert not any(words in made.jpeg for words in photographs.HIDDEN)
    assert b"Exif" not in made.jpeg and b"ICC_PROFILE" not in made.jpeg


def test_it_shows_what_was_taken() -> None:
    straight, turned = (opened(plain(photographs.told_too_much(way)).jpeg) for way in (1, 6))

    def is_red(pixel: object) -> bool:
        assert isinstance(pixel, tuple)
        return bool(pixel[0] > 200 and pixel[2] < 60)

    assert is_red(straight.getpixel((40, 240))) and not is_red(straight.getpixel((600, 240)))
    assert is_red(turned.getpixel((240, 40))) and not is_red(turned.getpixel((240, 600)))
    clear = opened(plain(photographs.png_with_words()).jpeg)
    assert clear.getpixel((40, 240)) == (255, 255, 255)  # what is seen through stands on white


@pytest.mark.parametrize(("given", "why"), photographs.BAD.values(), ids=photographs.BAD)
def test_what_cannot_be_kept_is_refused_with_its_reason(given: bytes, why: str) -> None:
    with pytest.raises(NotKept, match=why):
        plain(given)


def test_what_is_too_large_is_not_opened() -> None:
    with pytest.raises(NotKept, match="larger than 12 MB"):
        plain(photographs.told_too_much() + b"\0" * (12 << 20))
