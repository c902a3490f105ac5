"""An answer that is missing on a page."""


class Unknown:
    """An answer that cannot be worked out, with the reason."""

    def __init__(self, why):
        self.why = why
