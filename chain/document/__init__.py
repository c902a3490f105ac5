"""A layout on paper: pages for the cryostat and for each line, lists, labels, data."""

from chain.document.document import document, write_document

__all__ = ["document", "write_document"]
