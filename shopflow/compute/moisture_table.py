"""Moisture of wood at rest in air, as printed: what a bench card shows, beside the equation in `wood`."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from shopflow.compute.guards import number

# Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190, 2010), ch. 4, Table 4-2: by temperature in °F,
# percent of the dry weight at 5, 10 ... 95 % relative humidity.
_ROWS = """
 30 1.4 2.6 3.7 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.4 11.3 12.4 13.5 14.9 16.5 18.5 21.0 24.3
 40 1.4 2.6 3.7 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.4 11.3 12.3 13.5 14.9 16.5 18.5 21.0 24.3
 50 1.4 2.6 3.6 4.6 5.5 6.3 7.1 7.9 8.7 9.5 10.3 11.2 12.3 13.4 14.8 16.4 18.4 20.9 24.3
 60 1.3 2.5 3.6 4.6 5.4 6.2 7.0 7.8 8.6 9.4 10.2 11.1 12.1 13.3 14.6 16.2 18.2 20.7 24.1
 70 1.3 2.5 3.5 4.5 5.4 6.2 6.9 7.7 8.5 9.2 10.1 11.0 12.0 13.1 14.4 16.0 17.9 20.5 23.9
 80 1.3 2.4 3.5 4.4 5.3 6.1 6.8 7.6 8.3 9.1 9.9 10.8 11.7 12.9 14.2 15.7 17.7 20.2 23.6
 90 1.2 2.3 3.4 4.3 5.1 5.9 6.7 7.4 8.1 8.9 9.7 10.5 11.5 12.6 13.9 15.4 17.3 19.8 23.3
100 1.2 2.3 3.3 4.2 5.0 5.8 6.5 7.2 7.9 8.7 9.5 10.3 11.2 12.3 13.6 15.1 17.0 19.5 22.9
110 1.1 2.2 3.2 4.0 4.9 5.6 6.3 7.0 7.7 8.4 9.2 10.0 11.0 12.0 13.2 14.7 16.6 19.1 22.4
120 1.1 2.1 3.0 3.9 4.7 5.4 6.1 6.8 7.5 8.2 8.9 9.7 10.6 11.7 12.9 14.4 16.2 18.6 22.0
130 1.0 2.0 2.9 3.7 4.5 5.2 5.9 6.6 7.2 7.9 8.7 9.4 10.3 11.3 12.5 14.0 15.8 18.2 21.5
140 0.9 1.9 2.8 3.6 4.3 5.0 5.7 6.3 7.0 7.7 8.4 9.1 10.0 11.0 12.1 13.6 15.3 17.7 21.0
150 0.9 1.8 2.6 3.4 4.1 4.8 5.5 6.1 6.7 7.4 8.1 8.8 9.7 10.6 11.8 13.1 14.9 17.2 20.4
160 0.8 1.6 2.4 3.2 3.9 4.6 5.2 5.8 6.4 7.1 7.8 8.5 9.3 10.3 11.4 12.7 14.4 16.7 19.9
170 0.7 1.5 2.3 3.0 3.7 4.3 4.9 5.6 6.2 6.8 7.4 8.2 9.0 9.9 11.0 12.3 14.0 16.2 19.3
180 0.7 1.4 2.1 2.8 3.5 4.1 4.7 5.3 5.9 6.5 7.1 7.8 8.6 9.5 10.5 11.8 13.5 15.7 18.7
190 0.6 1.3 1.9 2.6 3.2 3.8 4.4 5.0 5.5 6.1 6.8 7.5 8.2 9.1 10.1 11.4 13.0 15.1 18.1
200 0.5 1.1 1.7 2.4 3.0 3.5 4.1 4.6 5.2 5.8 6.4 7.1 7.8 8.7 9.7 10.9 12.5 14.6 17.5
"""
_PRINTED = {
    int(row.split()[0]): tuple(float(cell) for cell in row.split()[1:]) for row in _ROWS.strip().splitlines()
}
_FAHRENHEIT = tuple(_PRINTED)
_HUMIDITY = tuple(range(5, 100, 5))
COLDEST_C, HOTTEST_C = (30 - 32) / 1.8, (200 - 32) / 1.8


def tabled_moisture(temp_c: float, rh: float) -> float:
    """Read the printed table, between its rows and columns on straight lines.

    Parameters: `temp_c` air temperature, -1.1 to 93.3 °C (30 to 200 °F); `rh` relative humidity, 5 to 95 %.
    Result: percent of the dry weight. Errors: ComputeError for a value outside the table.
    Source: Wood Handbook, Table 4-2. Straight lines between printed values are our own.

    >>> round(tabled_moisture(21.11, 50), 1)
    9.2
    """
    fahrenheit = number("temp_c", temp_c, at_least=-1.2, at_most=93.4, unit="°C") * 1.8 + 32
    humidity = number("rh", rh, at_least=5, at_most=95, unit="%")
    row, down = _between(_FAHRENHEIT, fahrenheit)
    column, along = _between(_HUMIDITY, humidity)
    low, high = (_PRINTED[_FAHRENHEIT[each]] for each in (row, row + 1))
    first, second = (each[column] + along * (each[column + 1] - each[column]) for each in (low, high))
    return first + down * (second - first)


def _between(marks: Sequence[int], value: float) -> tuple[int, float]:
    """The place below a value, and how far it lies on the way to the next."""
    place = min(max(bisect_right(marks, value) - 1, 0), len(marks) - 2)
    share = (value - marks[place]) / (marks[place + 1] - marks[place])
    return place, min(1.0, max(0.0, share))
