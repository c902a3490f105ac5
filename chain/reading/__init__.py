"""From a layout file to a Layout: parse, check, convert."""

from chain.reading.load import changed, load

__all__ = ["changed", "load"]
