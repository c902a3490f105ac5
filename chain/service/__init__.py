"""Taking a cryostat's lines apart and putting them back: what, in which order, with what care."""

from chain.service.plan import Service, Step, service

__all__ = ["Service", "Step", "service"]
