"""What arrives of a pump in many variants of a layout at once."""

from chain.layout.layout import Signal
from chain.network.assembly import Choices
from chain.network.variants import solve_variants
from chain.power.tones import frequencies, pumps_with


def pump_transfers(layout, tone, port, variants):
    """Return the part of a tone's power that arrives at a port in every variant of a layout.

    `variants` as chain.layout.variants has them; shape (variants,), averaged over phases and comb.
    Raises LayoutError, also where one of the variants cannot be.
    """
    source = Signal(tone.name, (tone.into, layout.elements[tone.into].ports[0]), port, tone.place)
    choices = Choices(at_pump=pumps_with(layout, tone), every_idler=True)
    found = solve_variants(
        layout, source, frequencies(tone), variants, choices,
        heated_k=({},) * len(variants), shares=False,
    )
    for error in found.errors.values():
        raise error
    return found.gain.mean(axis=1)
