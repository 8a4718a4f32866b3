"""Pictures and what only looks like one, made on the spot."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageCms, PngImagePlugin

RED, BLUE = (200, 30, 30), (30, 30, 200)
GPS, SECRET = 0x8825, "taken at the customer's house"


def two_halves(size: tuple[int, int] = (64, 48), mode: str = "RGB") -> Image.Image:
    """Red on the left, blue on the right: one sees how it is turned."""
    made = Image.new("RGB", size, RED)
    made.paste(BLUE, (size[0] // 2, 0, *size))
    return made.convert(mode)


def saved(picture: Image.Image, kind: str = "JPEG", **how: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **how)
    return out.getvalue()


def jpeg(size: tuple[int, int] = (64, 48), **how: Any) -> bytes:
    return saved(two_halves(size), **how)


def png(size: tuple[int, int] = (64, 48), **how: Any) -> bytes:
    return saved(two_halves(size), "PNG", **how)


def file(content: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def turned(orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return jpeg(exif=exif)


def with_everything_inside() -> bytes:
    """EXIF with a place on earth and a maker's note, a comment, a colour profile."""
    exif = Image.Exif()
    exif[0x010E] = SECRET
    exif.get_ifd(GPS)[1] = "N"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return jpeg(exif=exif, comment=SECRET.encode(), icc_profile=profile)


def png_with_texts() -> bytes:
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Comment", SECRET)
    return png(pnginfo=texts)


def png_that_says(width: int, height: int) -> bytes:
    """A PNG of some bytes that claims to be that large."""
    return _PNG + _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)) + _END


def png_with_nonsense_inside() -> bytes:
    """Whole and with the right checksums, but what they guard is no picture."""
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", 64, 48, 8, 2, 0, 0, 0))
    return _PNG + head + _chunk(b"IDAT", b"\xff" * 300) + _END


def flood() -> bytes:
    """169 million pixels in some 20 kB."""
    return saved(Image.new("1", (13_000, 13_000)), "PNG")


def giant_text() -> bytes:
    text = b"Comment\0\0" + zlib.compress(b"x" * 60_000_000)
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", 8, 8, 8, 2, 0, 0, 0))
    return _PNG + head + _chunk(b"zTXt", text) + _chunk(b"IDAT", zlib.compress(b"\0" * 200)) + _END


def webp_that_says(width: int, height: int) -> bytes:
    body = bytes([0x10, 0, 0, 0]) + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    content = b"WEBPVP8X" + struct.pack("<I", len(body)) + body + b"VP8 " + struct.pack("<I", 8) + b"\0" * 8
    return b"RIFF" + struct.pack("<I", len(content)) + content


def gif(frames: int = 200) -> bytes:
    first, *rest = [Image.new("L", (8, 8), shade % 255) for shade in range(frames)]
    return saved(first, "GIF", save_all=True, append_images=rest)


def moving_png() -> bytes:
    first, *rest = [two_halves(), *(Image.new("RGB", (64, 48), (shade, 0, 0)) for shade in range(20))]
    return saved(first, "PNG", save_all=True, append_images=rest)


def with_a_broken_profile() -> bytes:
    return jpeg(icc_profile=b"\0\0\1\0lcms" + b"\xff" * 200)


def heic() -> bytes:
    return struct.pack(">I", 24) + b"ftypheic" + b"\0\0\0\0mif1heic" + b"\0" * 200


def svg() -> bytes:
    return b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


def zipped() -> bytes:
    return b"PK\x03\x04" + b"\0" * 200


REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing at all": (lambda: b"", "empty"),
    "a JPEG cut in half": (lambda: _half(jpeg((640, 480))), "incomplete"),
    "a JPEG cut in half with its preview whole": (lambda: _half(_with_preview()), "incomplete"),
    "a PNG cut in half": (lambda: _half(png((640, 480))), "incomplete"),
    "a WebP cut in half": (lambda: _half(saved(two_halves((640, 480)), "WEBP")), "incomplete"),
    "a JPEG's first bytes only": (lambda: b"\xff\xd8\xff\xe0", "incomplete"),
    "169 megapixels in 20 kB": (flood, "too many pixels"),
    "400 megapixels claimed": (lambda: png_that_says(20_000, 20_000), "too many pixels"),
    "a strip 50,000 long": (lambda: png_that_says(50_000, 1), "limit for a side is 20000"),
    "no pixels at all": (lambda: png_that_says(0, 0), "cannot be opened|damaged"),
    "a WebP of 16383 by 16383": (lambda: webp_that_says(16_383, 16_383), "too many pixels"),
    "a PNG with a giant text": (giant_text, "damaged"),
    "SVG with a script": (svg, "HTML or SVG"),
    "HTML": (lambda: b"  \n<!doctype html><script>alert(1)</script>", "HTML or SVG"),
    "TIFF": (lambda: saved(two_halves(), "TIFF"), "TIFF"),
    "EPS": (lambda: saved(two_halves(), "EPS"), "PostScript"),
    "PDF": (lambda: saved(two_halves(), "PDF"), "PDF"),
    "BMP": (lambda: saved(two_halves(), "BMP"), "BMP"),
    "GIF of 200 frames": (gif, "GIF"),
    "zip": (zipped, "zip"),
    "HEIC": (heic, "HEIC photo.*JPEG"),
    "text": (lambda: b"\0\1 hello", "no photo"),
}

TAKEN: dict[str, Callable[[], bytes]] = {
    "plain JPEG": jpeg,
    "progressive JPEG": lambda: jpeg((640, 480), progressive=True),
    "several pictures in one JPEG": lambda: saved(
        two_halves(), "MPO", save_all=True, append_images=[Image.new("RGB", (64, 48))]
    ),
    "JPEG with HTML behind it": lambda: jpeg() + b"<script>alert(1)</script>",
    "PNG with HTML behind it": lambda: png() + b"<script>alert(1)</script>",
    "JPEG with everything inside": with_everything_inside,
    "PNG with texts": png_with_texts,
    "broken colour profile": with_a_broken_profile,
    "CMYK": lambda: saved(two_halves(mode="CMYK")),
    "grey": lambda: saved(two_halves(mode="L")),
    "16 bits": lambda: saved(two_halves(mode="L").convert("I;16"), "PNG"),
    "see-through PNG": lambda: saved(two_halves(mode="RGBA"), "PNG"),
    "see-through grey": lambda: saved(two_halves(mode="LA"), "PNG"),
    "palette": lambda: saved(two_halves(mode="P"), "PNG", transparency=0),
    "black and white": lambda: saved(two_halves(mode="1"), "PNG"),
    "WebP": lambda: saved(two_halves(), "WEBP"),
    "lossless WebP": lambda: saved(two_halves(), "WEBP", lossless=True),
    "moving PNG": moving_png,
}


def _half(content: bytes) -> bytes:
    return content[: len(content) // 2]


def _with_preview() -> bytes:
    """A camera puts a small whole JPEG in front of the large one."""
    exif = b"Exif\0\0" + jpeg((16, 12))
    return b"\xff\xd8\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif + jpeg((640, 480))[2:]


_PNG = b"\x89PNG\r\n\x1a\n"


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


_END = _chunk(b"IEND", b"")
