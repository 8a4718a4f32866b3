"""Pictures of the bench sheets, in the pen of `common/charts`."""

from .coats import film_bar
from .growth import growth_line
from .lift import lift_drawing
from .margin import Mark, gauge, margin_gauge

__all__ = ["Mark", "film_bar", "gauge", "growth_line", "lift_drawing", "margin_gauge"]
