"""What happens when elements of a microwave line are joined: read, solve, report."""

try:
    import components

    if getattr(components, "BELONGS_TO", None) != "chain":
        at = getattr(components, "__file__", None) or list(components.__path__)
        raise ImportError(
            f"chain comes with a package `components`, but Python finds another one first: {at}. "
            "Rename that one, or start Python in another folder (`python -P` does not look beside "
            "the script); `import chain` then works.", name="chain",
        )
    from chain.api import Layout, compare_results, load
    from chain.errors import LayoutError
    from chain.version import VERSION
except KeyboardInterrupt:  # a program that is interrupted while it starts ends quietly
    raise SystemExit(130) from None

__version__ = VERSION
__all__ = ["Layout", "LayoutError", "__version__", "compare_results", "load"]
