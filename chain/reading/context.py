"""What a value may refer to while it is read."""

from dataclasses import dataclass, field

from chain.reading.problems import Problems
from chain.reading.reach import Reach


@dataclass
class ReadContext:
    """The names that exist in the layout, and where mistakes are noted."""

    problems: Problems
    stages: tuple[str, ...] = ()
    tones: tuple[str, ...] = ()
    coax: dict = field(default_factory=dict)
    materials: dict = field(default_factory=dict)
    reach: Reach = field(default_factory=lambda: Reach(""))
    """Where files may lie."""
    data_files: dict = field(default_factory=dict)
    """Touchstone files that values name, by path and whether they hold outside."""


class SpoiltError(Exception):
    """What was read has mistakes, all noted already."""
