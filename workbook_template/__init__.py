"""Builds the input workbook and the example jobs from the data dictionary and CSV files."""

from workbook_template.builder import build_template, example_names, example_system

__all__ = ["build_template", "example_names", "example_system"]
