"""Which changes of a layout explain measured data."""

from chain.diagnosis.diagnosis import Diagnosis, diagnose

__all__ = ["Diagnosis", "diagnose"]
