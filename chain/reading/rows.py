"""Materials and coax that a layout can name: the catalogue's, and its own."""

import functools
from collections.abc import Mapping


class CatalogueRows(Mapping):
    """The rows of one page of the catalogue, `coax` or `materials`, read when one is asked for."""

    def __init__(self, page):
        self.page = page

    @functools.cached_property
    def _rows(self):
        from components import catalogue

        return {"coax": catalogue.coax, "materials": catalogue.materials}[self.page]()

    def __getitem__(self, name):
        return self._rows[name]

    def __iter__(self):
        return iter(self._rows)

    def __len__(self):
        return len(self._rows)


def add_rows(sections, context):
    """Fill `context` with the catalogue's materials and coax, and with the layout's `sections`."""
    if all(node is None for node in sections.values()):
        context.coax, context.materials = CatalogueRows("coax"), CatalogueRows("materials")
        return
    from chain.reading.own import add_own

    add_own(sections, context)
