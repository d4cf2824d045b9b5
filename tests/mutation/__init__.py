"""Small faults planted in the calculation core, one at a time, to see that a test notices each.

``python -m tests.mutation`` (``make mutants``) plants a sample of them; ``faults.py`` says which
there are, ``session.py`` runs the tests that reach each, ``explained.csv`` names those that change
no result.
"""
