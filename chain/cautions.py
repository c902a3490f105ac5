"""What elements have to say of the conditions they are used under, equal ones said once."""

from components.conditions import Conditions
from components.declaration import Kind

_SILENT = Kind.cautions


def cautions(layout, ids=None, *, frequency_hz=None):
    """Return a sentence for every caution of elements (`ids`, or all), each with its stages.

    At frequencies (Hz, shape (points,)), or over the band.  Copies of one element that say the
    same say it together.
    """
    f = layout.band.frequency_hz if frequency_hz is None else frequency_hz
    said = {}
    for key in layout.elements if ids is None else ids:
        element = layout.elements[key]
        for sentence in _sentences(layout, element, f):
            said.setdefault((where(element), sentence), []).append(key)
    return [
        f"{called(layout, keys)} ({stages}): {sentence}"
        for (stages, sentence), keys in said.items()
    ]


def _sentences(layout, element, f):
    if type(element.kind).cautions is not _SILENT:
        at = Conditions(f, layout.temperature_k(element), layout.anchors(element))
        yield from element.kind.cautions(element.settings, at)
    band = element.settings.values.get("band")
    if band is not None and (f.min() < band[0] or f.max() > band[1]):
        yield (
            f"its values are believed from {band[0] / 1e9:g} to {band[1] / 1e9:g} GHz, and are "
            f"taken from {f.min() / 1e9:g} to {f.max() / 1e9:g} GHz"
        )


def where(element):
    """Return the stage or stages of an element as a person says them."""
    if element.from_stage is None:
        return element.stage or "no stage"
    return f"{element.from_stage} to {element.to_stage}"


def called(layout, ids):
    """Return what elements are called together: `W1`, `V1-1 .. V1-12 (12 copies)`, `W1, W2`."""
    groups = {}
    for key in ids:
        line = layout.lines[layout.elements[key].line]
        alike = (line.copy_of, key.rpartition("-")[0]) if line.copy_of else (None, key)
        groups.setdefault(alike, []).append(key)
    return ", ".join(
        keys[0] if len(keys) == 1 else f"{keys[0]} .. {keys[-1]} ({len(keys)} copies)"
        for keys in groups.values()
    )
