"""Opens a photo that nobody has vouched for, and draws it anew. Runs as a process of its own.

    python -I decode.py SOURCE MOST_PIXELS TARGET=SIDE ...

What a hostile file can reach is this one process: it has little memory, five seconds, no database and no
Django. What it leaves behind are pictures drawn pixel by pixel, upright, in sRGB, with nothing else in them.
It prints one line of JSON: the size of the first picture, or the words with which the photo was refused.
"""

from __future__ import annotations

import io
import json
import resource
import sys
import warnings
from collections.abc import Sequence
from pathlib import Path

# Named one by one: with them Pillow has all it needs and never goes looking for readers of other formats.
from PIL import Image, ImageCms, JpegImagePlugin, PngImagePlugin, WebPImagePlugin

# Several JPEG pictures in one file, as many phones write it, are JPEG to Pillow: the first is the photo.
FORMATS = (
    JpegImagePlugin.JpegImageFile.format,
    PngImagePlugin.PngImageFile.format,
    WebPImagePlugin.WebPImageFile.format,
)
MOST_MEMORY = 300_000_000
MOST_CPU_S = 5
QUALITY = 85
PAPER = 255

UNREADABLE = "This photo is damaged, or too large to be opened here. Take it again, as a smaller JPEG."
INCOMPLETE = "This photo is incomplete: the end of it is missing. Try again."
TOO_BIG = "This photo needs too much memory to be opened. Set the camera to save smaller JPEG photos."

_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_ORIENTATION = 0x0112


def draw_anew(source: Path, targets: Sequence[tuple[Path, int]], *, most_pixels: int) -> tuple[int, int]:
    """Write a fresh JPEG for each (target, longest side), the longest first; the size of that first one."""
    Image.MAX_IMAGE_PIXELS = most_pixels
    largest = targets[0][1]
    with warnings.catch_warnings(), Image.open(source, formats=FORMATS) as opened:
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        opened.draft(None, (largest, largest))
        # Before its notes are asked for: that would load it too, and hide what went wrong.
        opened.load()
        turn, profile = _UPRIGHT.get(_turned(opened)), opened.info.get("icc_profile")
        picture = _shrunk(opened, largest)
    picture = _in_srgb(picture, profile)
    picture = picture if turn is None else picture.transpose(turn)
    for target, side in targets:
        _write(picture, target, side)
    picture.thumbnail((largest, largest))
    return picture.size


def _turned(picture: Image.Image) -> int:
    """How the camera was held; a note nobody can read counts as upright."""
    try:
        return int(picture.getexif().get(_ORIENTATION, 1))
    except Exception:
        return 1


def _shrunk(picture: Image.Image, side: int) -> Image.Image:
    """The whole picture at most `side` long, in a mode without an alpha channel.

    Band by band where there is an alpha channel: Pillow would hold two large copies at once otherwise.
    """
    if picture.mode.startswith("I") or picture.mode == "F":
        return _sixteen_bits(picture, side)
    if "transparency" in picture.info and picture.mode == "P":
        picture = picture.convert("RGBA")
    if picture.mode in {"RGBA", "LA", "PA"}:
        return _on_paper([_smaller(band, side) for band in _bands(picture)])
    return _smaller(picture if picture.mode in {"L", "RGB", "CMYK"} else picture.convert("RGB"), side)


def _smaller(picture: Image.Image, side: int) -> Image.Image:
    size = _fitting(picture.size, side)
    return picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)


def _fitting(size: tuple[int, int], side: int) -> tuple[int, int]:
    shrink = min(1.0, side / max(size))
    return max(1, round(size[0] * shrink)), max(1, round(size[1] * shrink))


def _bands(picture: Image.Image):  # type: ignore[no-untyped-def]
    names = picture.getbands()
    return (
        picture.getchannel(name) for name in (names if len(names) == 4 else (names[0],) * 3 + (names[-1],))
    )


def _on_paper(bands: Sequence[Image.Image]) -> Image.Image:
    colours = Image.merge("RGB", list(bands[:3]))
    paper = Image.new("RGB", colours.size, (PAPER, PAPER, PAPER))
    return Image.composite(colours, paper, bands[3])


def _sixteen_bits(picture: Image.Image, side: int) -> Image.Image:
    grey = _smaller(picture.convert("F"), side)
    return grey.point(lambda value: value * (1 / 257) + 0).convert("L")


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """In the colours of every screen; a profile that cannot be read is left out."""
    if profile:
        try:
            given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            srgb = ImageCms.createProfile("sRGB")
            changed = ImageCms.profileToProfile(picture, given, srgb, outputMode="RGB")
        except (ImageCms.PyCMSError, OSError, ValueError):
            changed = None
        if changed is not None:
            return changed
    return picture.convert("RGB")


def _write(picture: Image.Image, target: Path, side: int) -> None:
    """On fresh paper: a copy would carry over what was written into the picture."""
    size = _fitting(picture.size, side)
    fresh = Image.new("RGB", size)
    fresh.paste(picture.resize(size, Image.Resampling.LANCZOS))
    fresh.save(target, "JPEG", quality=QUALITY, optimize=True)


def limit_this_process() -> None:
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def words_for(trouble: BaseException) -> str:
    """Why a photo was refused, for the person who took it."""
    if isinstance(trouble, MemoryError):
        return TOO_BIG
    if isinstance(trouble, (Image.DecompressionBombError, Image.DecompressionBombWarning)):
        return f"This photo has too many pixels; the limit is {Image.MAX_IMAGE_PIXELS or 0:,}."
    cut_off = "truncated" in str(trouble) or isinstance(trouble, EOFError)
    return INCOMPLETE if cut_off else UNREADABLE


def main(source: str, most_pixels: str, *targets: str) -> None:
    limit_this_process()
    wanted = [(Path(path), int(side)) for path, _, side in (target.rpartition("=") for target in targets)]
    try:
        width, height = draw_anew(Path(source), wanted, most_pixels=int(most_pixels))
    except Exception as trouble:
        print(json.dumps({"refused": words_for(trouble)}))
    else:
        print(json.dumps({"width": width, "height": height}))


if __name__ == "__main__":
    main(*sys.argv[1:])
