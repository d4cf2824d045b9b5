"""The version, alone here so that packaging reads it without importing the rest."""

VERSION = "0.1.0"
SCHEMA_VERSION = 1
"""Of the JSON: it grows when a key goes or changes its meaning."""
