"""Electrical power: loads, motors, cables, derating, generators.

In: nameplates of a machine, generator classes, height and heat of the site.
Out: what a machine asks, whether a set carries it, the smallest set that does, fuel.
May not know: pipe, crews, the plan, or money.
"""
