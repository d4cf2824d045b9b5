"""Electrical power: loads, motors, cables, derating, generators.

In: nameplates of a machine, generator classes, height and heat of the site.
Out: what a machine asks, whether a set carries it, the smallest set of a crew, fuel.
May not know: pipe, the plan's tasks, or money.
"""
