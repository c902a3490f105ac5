"""What a value may refer to while it is read."""

from dataclasses import dataclass, field

from chain.reading.problems import Problems


@dataclass
class Around:
    """The names that exist in the layout, and where mistakes are noted."""

    problems: Problems
    stages: tuple[str, ...] = ()
    tones: tuple[str, ...] = ()
    coax: dict = field(default_factory=dict)
    materials: dict = field(default_factory=dict)


class SpoiltError(Exception):
    """What was read has mistakes, all noted already."""
