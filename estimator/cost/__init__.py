"""Cost and price: quantities times the user's rates, and the markup chain.

In: the plan, what is on rent, the hydrotests, the rates.
Out: cost lines, bid price, cost by run and by size, bid items; each to the cent.
May not know: how the plan or the choice of equipment came about.
"""
