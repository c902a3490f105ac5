"""What happens when elements of a microwave line are joined: read, solve, report."""

try:
    from chain.api import Layout, compare_results, load
    from chain.errors import LayoutError
    from chain.version import VERSION
except KeyboardInterrupt:  # a program that is interrupted while it starts ends quietly
    raise SystemExit(130) from None

__version__ = VERSION
__all__ = ["Layout", "LayoutError", "__version__", "compare_results", "load"]
