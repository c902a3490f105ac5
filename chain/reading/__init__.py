"""From a layout file to a Layout: parse, check, convert."""

from chain.reading.load import load

__all__ = ["load"]
