"""What happens when elements of a microwave line are joined: read, solve, report."""

from chain.errors import LayoutError
from chain.reading import load

__all__ = ["LayoutError", "load"]
