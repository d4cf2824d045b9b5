"""Builds the kit that is handed to an office: all packages, set-up scripts, docs, per system.

In: the project, and the pinned list of packages with their hashes.
Out: a folder and a zip file per system, from which the estimator is set up without a network.
"""
