"""Gathering every mistake of a layout before it is refused."""


from chain.errors import LayoutError, Place, Problem

MAX_PROBLEMS = 200
"""Reading stops at so many mistakes: looking for the nearest word takes its time."""

class MistakeError(Exception):
    """One mistake that stops what is being read: `what` is wrong, `instead` would be right."""

    def __init__(self, place, what, instead):
        super().__init__(f"{place}: {what}; {instead}")
        self.place, self.what, self.instead = place, what, instead


class Problems:
    """Mistakes found so far, each kept once however often what it stands in is read."""

    def __init__(self):
        self._found = {}
        self._files = {}
        self._hushed = frozenset()

    def __iter__(self):
        return iter(sorted(self._found, key=self._rank))

    def know(self, file):
        """Note that a file is being read; problems are told in the order of their files."""
        self._files.setdefault(file, len(self._files))

    def add(self, place, what, instead):
        """Note one mistake at a Place; raises LayoutError where it is one too many."""
        if place in self._hushed:
            return
        self._found[Problem(place, what, instead)] = None
        if len(self._found) >= MAX_PROBLEMS:
            self.refuse_if_any()

    def hush(self):
        """Note nothing more at places where something is noted: others will read them again."""
        self._hushed = frozenset(problem.place for problem in self._found)

    def note(self, wrong, before=""):
        """Note a MistakeError, with words put before what it says."""
        self.add(wrong.place, before + wrong.what, wrong.instead)

    def refuse_if_any(self):
        """Raise LayoutError where anything is wrong, in file order."""
        if self._found:
            raise LayoutError(self)

    def _rank(self, problem):
        place: Place = problem.place
        return self._files.get(place.file, len(self._files)), place.line, place.column
