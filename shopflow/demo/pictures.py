"""Drawn pictures that stand in for photos in the demo; each says on its face that it is drawn."""

from __future__ import annotations

import random
from io import BytesIO

from PIL import Image, ImageDraw

from shopflow.catalogue.models import Kind

SIZE = (1200, 900)
WOODS = {
    "walnut veneer": (104, 68, 40),
    "rosewood veneer": (92, 44, 34),
    "ebonised": (38, 34, 32),
    "mahogany veneer": (122, 58, 38),
    "oak": (158, 118, 70),
    "black lacquer": (26, 26, 30),
    "black polyester": (18, 18, 20),
}


def picture(*, kind: str, finish: str, number: str, words: str, worn: bool, rng: random.Random) -> bytes:
    """A JPEG of a drawn piano: scuffed and gap-toothed when worn, clean when not."""
    canvas = _room(rng)
    draw = ImageDraw.Draw(canvas)
    wood = WOODS.get(finish, (110, 76, 48))
    (_grand if kind == Kind.GRAND else _upright)(draw, wood, worn=worn, rng=rng)
    if worn:
        _scuffs(draw, rng)
    _label(draw, f"{number} · {words} · drawn for the demo")
    out = BytesIO()
    canvas.save(out, "JPEG", quality=84)
    return out.getvalue()


def _room(rng: random.Random) -> Image.Image:
    wide, high = SIZE
    canvas = Image.new("RGB", SIZE, (226, 216, 196))
    draw = ImageDraw.Draw(canvas)
    draw.rectangle((0, 640, wide, high), fill=(150, 118, 84))
    for x in range(-200, wide, 130):
        draw.line((x, high, x + 160, 640), fill=(128, 98, 68), width=3)
    window = 80 + rng.randint(0, 700)
    draw.rectangle((window, 60, window + 240, 330), fill=(240, 238, 226), outline=(120, 104, 84), width=10)
    draw.line((window + 120, 60, window + 120, 330), fill=(120, 104, 84), width=8)
    # Soft as a room behind the thing looked at: shrunk and drawn up again, far cheaper than a blur.
    return canvas.resize((wide // 8, high // 8)).resize(SIZE, Image.Resampling.BICUBIC)


def _upright(draw: ImageDraw.ImageDraw, wood: tuple[int, ...], *, worn: bool, rng: random.Random) -> None:
    dark, light = _shade(wood, 0.7), _shade(wood, 1.25)
    draw.rectangle((250, 200, 950, 760), fill=wood, outline=dark, width=6)
    draw.rectangle((225, 180, 975, 215), fill=light, outline=dark, width=4)
    draw.rectangle((300, 250, 900, 430), fill=light, outline=dark, width=5)
    draw.rectangle((300, 580, 900, 730), fill=light, outline=dark, width=5)
    _keys(draw, 265, 470, 670, 52, worn=worn, rng=rng)
    draw.rectangle((240, 522, 960, 552), fill=dark)
    for x in (270, 900):
        draw.rectangle((x, 552, x + 30, 770), fill=dark)
    for x in (560, 610):
        draw.ellipse((x, 742, x + 34, 760), fill=(96, 86, 60) if worn else (196, 160, 72))


def _grand(draw: ImageDraw.ImageDraw, wood: tuple[int, ...], *, worn: bool, rng: random.Random) -> None:
    dark, light = _shade(wood, 0.7), _shade(wood, 1.25)
    lid = [(330, 430), (420, 130), (1010, 210), (930, 430)]
    draw.polygon(lid, fill=light, outline=dark)
    draw.line((880, 430, 900, 220), fill=dark, width=10)
    draw.polygon([(220, 430), (960, 430), (940, 540), (250, 540)], fill=wood, outline=dark)
    _keys(draw, 255, 472, 520, 40, worn=worn, rng=rng)
    for x in (270, 610, 890):
        draw.polygon([(x, 540), (x + 44, 540), (x + 32, 790), (x + 12, 790)], fill=dark)
    draw.line((560, 540, 560, 760), fill=dark, width=8)
    draw.ellipse((535, 750, 585, 770), fill=(96, 86, 60) if worn else (196, 160, 72))


def _keys(
    draw: ImageDraw.ImageDraw, x: int, y: int, wide: int, high: int, *, worn: bool, rng: random.Random
) -> None:
    step = wide / 52
    for white in range(52):
        left = x + white * step
        tone = rng.randint(196, 226) if worn else 246
        fill = (120, 92, 60) if worn and rng.random() < 0.06 else (tone, tone - 4, tone - 26 * worn)
        draw.rectangle((left, y, left + step, y + high), fill=fill, outline=(90, 80, 70))
    for white in range(51):
        if white % 7 not in {1, 4}:
            left = x + (white + 0.68) * step
            draw.rectangle((left, y, left + step * 0.62, y + high * 0.6), fill=(28, 26, 26))


def _scuffs(draw: ImageDraw.ImageDraw, rng: random.Random) -> None:
    for _ in range(26):
        x, y = rng.randint(260, 930), rng.randint(220, 740)
        draw.line((x, y, x + rng.randint(-46, 46), y + rng.randint(-12, 12)), fill=(188, 168, 140), width=2)


def _label(draw: ImageDraw.ImageDraw, words: str) -> None:
    draw.rectangle((0, 852, SIZE[0], SIZE[1]), fill=(250, 246, 234))
    draw.text((24, 860), words, fill=(46, 38, 30), font_size=28)


def _shade(colour: tuple[int, ...], by: float) -> tuple[int, ...]:
    return tuple(min(255, round(part * by)) for part in colour)
