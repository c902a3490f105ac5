"""From a layout file to a Layout: parse, check, convert."""

from chain.reading.load import changed, load
from chain.reading.margins import read_margins

__all__ = ["changed", "load", "read_margins"]
