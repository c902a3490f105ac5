"""The version of the package; pyproject.toml takes it from here."""

PACKAGE = "cryogenic-chain"
VERSION = "0.2.0"
