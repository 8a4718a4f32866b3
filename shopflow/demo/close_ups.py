"""Drawn close-ups of what a survey finds; each says on its face that it is drawn."""

from __future__ import annotations

import random
from collections.abc import Callable
from io import BytesIO

from PIL import Image, ImageDraw

SIZE = (1200, 900)
Draw = ImageDraw.ImageDraw


def close_up(what: str, *, words: str, rng: random.Random) -> bytes:
    """A JPEG of a crack, rusty strings, cut hammers, chipped keys or lifting veneer."""
    canvas = Image.new("RGB", SIZE, (196, 160, 106))
    draw = ImageDraw.Draw(canvas)
    DRAWN[what](draw, rng)
    draw.rectangle((0, 852, *SIZE), fill=(250, 246, 234))
    draw.text((24, 860), f"{words} · drawn for the demo", fill=(46, 38, 30), font_size=28)
    out = BytesIO()
    canvas.save(out, "JPEG", quality=84)
    return out.getvalue()


def _grain(draw: Draw, rng: random.Random, tone: tuple[int, int, int]) -> None:
    for y in range(-60, 900, 9):
        shift = rng.randint(-14, 14)
        shade = tuple(max(0, part + shift) for part in tone)
        draw.line((0, y, 1200, y + rng.randint(20, 44)), fill=shade, width=rng.randint(2, 7))


def _crack(draw: Draw, rng: random.Random) -> None:
    _grain(draw, rng, (206, 170, 116))
    x, y, line = 120, 380, [(120, 380)]
    while x < 1040:
        x, y = x + rng.randint(30, 70), y + rng.randint(-6, 12)
        line.append((x, y))
    draw.line(line, fill=(120, 84, 48), width=13, joint="curve")
    draw.line(line, fill=(34, 22, 14), width=7, joint="curve")
    draw.rectangle((150, 620, 1000, 690), fill=(238, 228, 196), outline=(90, 78, 60), width=3)
    for mark in range(0, 850, 17):
        draw.line((150 + mark, 620, 150 + mark, 640 + 18 * (mark % 85 == 0)), fill=(60, 50, 40), width=2)


def _strings(draw: Draw, rng: random.Random) -> None:
    draw.rectangle((0, 0, *SIZE), fill=(120, 92, 52))
    for x in range(40, 1180, 34):
        draw.line((x, 0, x + 60, 900), fill=(150, 146, 138), width=7)
        for _ in range(46):
            y = rng.randint(0, 900)
            at = x + 60 * y / 900
            rust = (150 + rng.randint(-20, 20), 74, 30)
            draw.ellipse((at - 5, y - 5, at + 5, y + rng.randint(4, 16)), fill=rust)


def _hammers(draw: Draw, rng: random.Random) -> None:
    draw.rectangle((0, 0, *SIZE), fill=(74, 60, 46))
    for number in range(9):
        x = 60 + number * 124
        draw.rectangle((x + 34, 420, x + 62, 900), fill=(190, 150, 96), outline=(90, 66, 40))
        draw.pieslice((x, 120, x + 96, 520), 180, 360, fill=(226, 218, 200), outline=(130, 120, 100), width=3)
        draw.rectangle((x, 318, x + 96, 440), fill=(214, 204, 184), outline=(130, 120, 100), width=3)
        draw.rectangle((x + 32, 300, x + 64, 440), fill=(176, 128, 76))
        for groove in (26, 47, 68):
            deep = rng.randint(22, 46)
            draw.line(
                (x + groove, 128 + abs(47 - groove), x + groove, 128 + deep), fill=(70, 60, 52), width=6
            )


def _keys(draw: Draw, rng: random.Random) -> None:
    draw.rectangle((0, 0, *SIZE), fill=(52, 38, 28))
    for white in range(10):
        x, tone = 20 + white * 117, rng.randint(206, 232)
        draw.rectangle(
            (x, 120, x + 112, 760), fill=(tone, tone - 8, tone - 44), outline=(80, 66, 48), width=4
        )
        if rng.random() < 0.5:
            chip = rng.randint(30, 80)
            draw.polygon([(x + 112, 760), (x + 112 - chip, 760), (x + 112, 760 - chip)], fill=(142, 104, 62))
        if white % 7 not in {2, 6}:
            draw.rectangle((x + 80, 120, x + 150, 500), fill=(30, 28, 28))


def _veneer(draw: Draw, rng: random.Random) -> None:
    _grain(draw, rng, (120, 70, 44))
    draw.polygon([(420, 900), (520, 470), (760, 400), (980, 560), (1010, 900)], fill=(196, 160, 112))
    edge = [(420, 900), (520, 470), (760, 400), (980, 560), (1010, 900)]
    draw.line(edge, fill=(54, 30, 18), width=10, joint="curve")
    draw.polygon([(520, 470), (760, 400), (700, 250), (560, 300)], fill=(150, 92, 58), outline=(60, 34, 20))


DRAWN: dict[str, Callable[[Draw, random.Random], None]] = {
    "crack": _crack,
    "strings": _strings,
    "hammers": _hammers,
    "keys": _keys,
    "veneer": _veneer,
}
