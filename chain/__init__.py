"""What happens when elements of a microwave line are joined: read, solve, report."""

from chain.api import Layout, load
from chain.errors import LayoutError

__all__ = ["Layout", "LayoutError", "load"]
