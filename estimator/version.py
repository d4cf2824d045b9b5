"""The version, alone here so that packaging reads it without importing the rest."""

VERSION = "0.1.0"
