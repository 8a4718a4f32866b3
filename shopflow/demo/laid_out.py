"""Drawn pictures to be numbered: hardware laid out on felt, and a soundboard with its ribs and cracks."""

from __future__ import annotations

import random
from collections.abc import Callable
from io import BytesIO

from PIL import Image, ImageDraw

SIZE = (1200, 900)
Draw = ImageDraw.ImageDraw
BRASS, NICKEL, SHADOW = (188, 148, 62), (186, 184, 178), (26, 58, 42)

Laid = tuple[str, int, float, float, str]
# What lies where on the felt: name, how many, place as shares of the picture, how it is drawn.
OF_BOTH: list[Laid] = [
    ("lid hinges", 2, 0.17, 0.24, "hinge"),
    ("fall hinges", 3, 0.45, 0.22, "hinge"),
    ("hinge screws", 30, 0.78, 0.24, "screws"),
    ("lock and key", 1, 0.46, 0.62, "lock"),
]
HARDWARE: dict[str, list[Laid]] = {
    "grand": [
        *OF_BOTH,
        ("pedals", 3, 0.20, 0.62, "pedal"),
        ("lid prop", 1, 0.70, 0.52, "bar"),
        ("casters", 3, 0.78, 0.76, "disc"),
    ],
    "upright": [
        *OF_BOTH,
        ("pedals", 2, 0.20, 0.62, "pedal"),
        ("door catches", 4, 0.70, 0.52, "screws"),
        ("casters", 4, 0.78, 0.76, "disc"),
    ],
}
# Where cracks run on the soundboard, and where two ribs have let go.
CRACKS: list[tuple[float, float, int]] = [
    (0.30, 0.34, 412),
    (0.47, 0.52, 265),
    (0.58, 0.30, 180),
    (0.71, 0.61, 530),
]
RIBS: list[tuple[float, float]] = [(0.38, 0.72), (0.64, 0.20)]


def hardware(words: str, rng: random.Random, *, kind: str) -> bytes:
    """A JPEG of an instrument's metal parts on green felt, each sort where `HARDWARE` says."""
    canvas = Image.new("RGB", SIZE, (46, 96, 70))
    draw = ImageDraw.Draw(canvas)
    for _ in range(900):
        left, top = rng.randint(0, 1200), rng.randint(0, 850)
        draw.line((left, top, left + rng.randint(-8, 8), top + rng.randint(-8, 8)), fill=(42, 88, 64))
    for _, count, right, down, shape in HARDWARE[kind]:
        for n in range(min(count, 8)):
            DRAWN[shape](
                draw, round(right * 1200) + (n % 4) * 62 - 90, round(down * 900) + (n // 4) * 70 - 30
            )
    return _labelled(canvas, words)


def soundboard(words: str, rng: random.Random) -> bytes:
    """A JPEG of a soundboard seen from above, with the cracks of `CRACKS`."""
    canvas = Image.new("RGB", SIZE, (92, 66, 40))
    draw = ImageDraw.Draw(canvas)
    rim = [(90, 820), (90, 120), (420, 60), (820, 110), (1080, 330), (1120, 620), (1060, 820)]
    _grain(canvas, rim, rng)
    draw.line([*rim, rim[0]], fill=(70, 46, 28), width=22, joint="curve")
    draw.line([(180, 700), (420, 540), (760, 420), (1010, 400)], fill=(120, 78, 44), width=34, joint="curve")
    for right, down, length in CRACKS:
        _crack(draw, round(right * 1200), round(down * 900), length // 2, rng)
    return _labelled(canvas, words)


def _grain(canvas: Image.Image, rim: list[tuple[int, int]], rng: random.Random) -> None:
    """Spruce, within the rim."""
    wood, inside = Image.new("RGB", SIZE, (222, 188, 130)), Image.new("L", SIZE, 0)
    draw = ImageDraw.Draw(wood)
    for x in range(-500, 1200, 11):
        tone = rng.randint(-12, 10)
        draw.line((x, 0, x + 500, 900), fill=(214 + tone, 180 + tone, 122 + tone), width=3)
    ImageDraw.Draw(inside).polygon(rim, fill=255)
    canvas.paste(wood, mask=inside)


def _crack(draw: Draw, x: int, y: int, length: int, rng: random.Random) -> None:
    line = [(x - length * 0.28 + at * 0.55, y - length * 0.5 + at) for at in range(0, length, 18)]
    wavy = [(px + rng.randint(-3, 3), py) for px, py in line]
    draw.line(wavy, fill=(58, 36, 20), width=7, joint="curve")
    draw.line(wavy, fill=(24, 14, 8), width=3, joint="curve")


def _labelled(canvas: Image.Image, words: str) -> bytes:
    draw = ImageDraw.Draw(canvas)
    draw.rectangle((0, 852, *SIZE), fill=(250, 246, 234))
    draw.text((24, 860), f"{words} · drawn for the demo", fill=(46, 38, 30), font_size=28)
    out = BytesIO()
    canvas.save(out, "JPEG", quality=84)
    return out.getvalue()


def _hinge(draw: Draw, x: int, y: int) -> None:
    draw.rectangle((x + 4, y + 5, x + 56, y + 47), fill=SHADOW)
    draw.rectangle((x, y, x + 52, y + 42), fill=BRASS, outline=(110, 82, 30), width=2)
    draw.line((x + 26, y, x + 26, y + 42), fill=(110, 82, 30), width=4)
    for hole in ((12, 10), (12, 32), (40, 10), (40, 32)):
        draw.ellipse((x + hole[0] - 4, y + hole[1] - 4, x + hole[0] + 4, y + hole[1] + 4), fill=(60, 44, 18))


def _screws(draw: Draw, x: int, y: int) -> None:
    for n in range(4):
        at = x + n * 14
        draw.line((at, y + 4, at + 4, y + 40), fill=NICKEL, width=5)
        draw.ellipse((at - 6, y - 4, at + 8, y + 8), fill=NICKEL, outline=(110, 108, 102))


def _pedal(draw: Draw, x: int, y: int) -> None:
    draw.rounded_rectangle((x + 4, y + 5, x + 44, y + 135), 16, fill=SHADOW)
    draw.rounded_rectangle((x, y, x + 38, y + 130), 16, fill=BRASS, outline=(110, 82, 30), width=2)


def _lock(draw: Draw, x: int, y: int) -> None:
    draw.rectangle((x, y, x + 90, y + 60), fill=NICKEL, outline=(100, 98, 92), width=3)
    draw.ellipse((x + 36, y + 18, x + 54, y + 36), fill=(50, 48, 44))
    draw.line((x + 110, y + 30, x + 180, y + 30), fill=BRASS, width=9)
    draw.ellipse((x + 96, y + 14, x + 128, y + 46), outline=BRASS, width=8)


def _bar(draw: Draw, x: int, y: int) -> None:
    draw.line((x + 5, y + 6, x + 265, y - 24), fill=SHADOW, width=15)
    draw.line((x, y, x + 260, y - 30), fill=NICKEL, width=14)


def _disc(draw: Draw, x: int, y: int) -> None:
    draw.ellipse((x, y, x + 52, y + 52), fill=BRASS, outline=(110, 82, 30), width=4)
    draw.ellipse((x + 18, y + 18, x + 34, y + 34), fill=(90, 66, 26))


DRAWN: dict[str, Callable[[Draw, int, int], None]] = {
    "hinge": _hinge,
    "screws": _screws,
    "pedal": _pedal,
    "lock": _lock,
    "bar": _bar,
    "disc": _disc,
}
