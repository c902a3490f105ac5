"""The verbs of the command line, one module each; a module that is here is a verb."""

import importlib
import pkgutil

ORDER = ("budget", "power", "heat", "check", "compare", "warm", "document", "draw", "service",
         "kinds", "schema")
"""The order in which help lists them; others follow by name."""


def _modules():
    names = [module.name for module in pkgutil.iter_modules(__path__) if module.name != "options"]
    place = {name: index for index, name in enumerate(ORDER)}
    for name in sorted(names, key=lambda name: (place.get(name, len(place)), name)):
        yield importlib.import_module(f"{__name__}.{name}")


VERBS = [module.VERB for module in _modules()]
