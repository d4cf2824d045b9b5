"""Equipment on rent: machines, generators and lifting gear.

In: the plan, the classes of equipment and their rental rates.
Out: what is on rent from when to when at which tiers, and how close it comes to its limits.
May not know: wages, materials, markup.
"""
