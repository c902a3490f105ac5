"""What runs from stage to stage: its ends and anchors, and bundles that carry no microwaves."""

from components.declaration import Kind
from components.parameters import Distances, Measure, Parameter, ParameterError, Reference

ENDS_AND_ANCHORS = (
    Parameter("from", Reference("stage"), "stage at its start", fixed=True),
    Parameter("to", Reference("stage"), "stage at its end", fixed=True),
    Parameter("via", Distances(), "stages that anchor it, at distances from its start", fixed=True),
)

BUNDLE = (
    *ENDS_AND_ANCHORS,
    Parameter("length", Measure("length", zero=True), "length", required=True),
)


def anchor_problems(settings):
    """Yield what is wrong with the length and the distances of the anchors in between."""
    via, length = settings["via"] or (), settings["length"]
    if via and length is None:
        yield ParameterError(
            "via", "anchors at distances need the length that they lie on", "give length"
        )
        return
    if settings.given("from") and length is not None and length.value <= 0:
        yield ParameterError(
            "length", f"a length of {length.text} cannot reach from one stage to another",
            "give the length between its ends",
        )
        return
    for stage, metres in via:
        if not 0 < metres < length.value:
            yield ParameterError(
                "via", f"its anchor at {stage}, {metres:g} m from its start, does not lie between "
                f"its ends, {length.text} apart", f"give less than {length.text}, and more than 0",
            )


class Bundle(Kind):
    """Strands side by side that take no part in the microwave network."""

    noise = "None: no microwave ports."
    port_names = ()
    route = (None, None)
    states = ("ok",)
    spans_stages = True
    without = frozenset({
        "reversed", "enter", "leave", "loads", "return_loss", "data", "extra_loss", "warm",
        "temperature", "connectors", "connector_loss", "max_power", "dc_resistance",
    })

    def check(self, settings):
        """Yield anchors that cannot be."""
        yield from anchor_problems(settings)

    def scattering(self, settings, at):
        return {}
