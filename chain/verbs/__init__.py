"""The verbs of the command line, one module each; a module that is here is a verb."""

import importlib
import pkgutil

ORDER = ("demo", "budget", "power", "heat", "check", "compare", "reduce", "diagnose", "arrange",
         "warm", "document", "draw", "service", "format", "kinds", "catalogue", "fields", "schema")
"""The order in which help lists them; others follow by name."""


def names():
    """Return the names of the verbs in the order in which help lists them."""
    found = [module.name for module in pkgutil.iter_modules(__path__) 
             if module.name not in ("options", "parser")]
    place = {name: index for index, name in enumerate(ORDER)}
    return sorted(found, key=lambda name: (place.get(name, len(place)), name))


def verb(name):
    """Return the Verb of that name; only its own module is imported, so that it starts fast."""
    return importlib.import_module(f"{__name__}.{name}").VERB
