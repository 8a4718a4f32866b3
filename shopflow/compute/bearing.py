"""Belly sums about crown and bearing: arcs, angles and the force of the strings on the bridge.

Nobody who knows gives a pass mark for crown or bearing, so none is built in: these are numbers to read
together with the tone. The sign tells which way: a rise or an angle less than 0 lifts the string off the
bridge.
"""

from __future__ import annotations

import math

from shopflow.compute.guards import number


def crown_radius_mm(chord_mm: float, rise_mm: float) -> float:
    """Tell the radius of a crown from the gap under a thread.

    Parameters: `chord_mm` length of the thread, 1 to 10,000 mm; `rise_mm` gap at its middle, 0.001 mm to half
    the chord. Result: mm. Errors: ComputeError for a value outside its span.
    Source: geometry of the circle, R = (c²/4 + s²)/(2 s), as on a lutherie reference page.

    >>> round(crown_radius_mm(1200, 9.84517))
    18288
    """
    chord = number("chord_mm", chord_mm, at_least=1, at_most=10_000, unit="mm")
    rise = number("rise_mm", rise_mm, at_least=0.001, at_most=chord / 2, unit="mm")
    return (chord**2 / 4 + rise**2) / (2 * rise)


def crown_rise_mm(radius_mm: float, chord_mm: float) -> float:
    """Tell the gap under the middle of a thread laid across a crown of this radius.

    Parameters: `radius_mm` 1 to 1,000,000,000 mm; `chord_mm` length of the thread, 1 mm to twice the radius.
    Result: mm. Errors: ComputeError for a value outside its span.
    Source: geometry of the circle, s = R - sqrt(R² - c²/4); technicians' list, March 2001, no. 82420.

    >>> round(crown_rise_mm(18_288, 1200), 3)
    9.845
    """
    radius, chord = _radius_and_chord(radius_mm, chord_mm)
    # The same sum without taking two nearly equal lengths from each other, which would lose the small rise.
    return chord**2 / 4 / (radius + math.sqrt(max(0.0, radius**2 - chord**2 / 4)))


def crown_arc_mm(radius_mm: float, chord_mm: float) -> float:
    """Tell the length along the crowned wood between the ends of a thread.

    Parameters and errors as for `crown_rise_mm`. Result: mm. Source: geometry of the circle, 2 R asin(c/2R).

    >>> round(crown_arc_mm(18_288, 1200), 2)
    1200.22
    """
    radius, chord = _radius_and_chord(radius_mm, chord_mm)
    return 2 * radius * math.asin(chord / (2 * radius))


def angle_deg(rise_mm: float, length_mm: float) -> float:
    """Turn a height read with feeler or gauge into the angle of the string at the bridge.

    Parameters: `rise_mm` how far the bridge stands above the straight line of the string, -100 to 100 mm;
    `length_mm` length of string over which it was read, 1 to 10,000 mm.
    Result: degrees. Errors: ComputeError for a value outside its span.
    Source: geometry; one degree is 0.0175 of the length.

    >>> round(angle_deg(1.75, 100), 1)
    1.0
    """
    rise = number("rise_mm", rise_mm, at_least=-100, at_most=100, unit="mm")
    return math.degrees(
        math.atan2(rise, number("length_mm", length_mm, at_least=1, at_most=10_000, unit="mm"))
    )


def net_angle_deg(front_deg: float, back_deg: float) -> float:
    """Add the bearing on the speaking side and on the back side of a bridge.

    Parameters: `front_deg` and `back_deg`, each -45 to 45 degrees, more than 0 where the string presses down.
    Result: degrees. Errors: ComputeError for a value outside its span. Source: definition; common practice,
    no source.

    >>> net_angle_deg(0.5, 0.7)
    1.2
    """
    front = number("front_deg", front_deg, at_least=-45, at_most=45, unit="degrees")
    return front + number("back_deg", back_deg, at_least=-45, at_most=45, unit="degrees")


def down_force_n(tension_n: float, net_deg: float) -> float:
    """Tell how hard one string presses on the bridge; a section's strings add up to its load on the board.

    Parameters: `tension_n` 0 to 50,000 N; `net_deg` net bearing, -90 to 90 degrees.
    Result: N, less than 0 where the string lifts. Errors: ComputeError for a value outside its span.
    Source: two equal pulls meeting at an angle, 2 T sin(net/2); friction at the pins is left out.

    >>> round(down_force_n(700, 1), 1)
    12.2
    """
    tension = number("tension_n", tension_n, at_least=0, at_most=50_000, unit="N")
    net = number("net_deg", net_deg, at_least=-90, at_most=90, unit="degrees")
    return 2 * tension * math.sin(math.radians(net) / 2)


def _radius_and_chord(radius_mm: float, chord_mm: float) -> tuple[float, float]:
    radius = number("radius_mm", radius_mm, at_least=1, at_most=1e9, unit="mm")
    return radius, number("chord_mm", chord_mm, at_least=1, at_most=2 * radius, unit="mm")
