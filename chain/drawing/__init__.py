"""A layout as a picture: stages as bands from warm to cold, every element in its place."""

from chain.drawing.drawing import Drawing, draw, draw_in_parts, draw_line, posters
from chain.drawing.legend import legend

__all__ = ["Drawing", "draw", "draw_in_parts", "draw_line", "legend", "posters"]
