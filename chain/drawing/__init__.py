"""A layout as a picture: stages as bands from warm to cold, every element in its place."""

from chain.drawing.drawing import Drawing, draw

__all__ = ["Drawing", "draw"]
