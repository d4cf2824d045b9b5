"""Cost and price: quantities times the user's rates, and the markup chain.

In: the plan, what is on rent, the hydrotests, the rates.
Out: cost lines, bid price, cost by run and by size, bid items; each to the cent.
May not know: how the plan or the choice of equipment came about.
"""

from estimator.cost.bid_items import price_items
from estimator.cost.by_run import share_cost
from estimator.cost.by_size import pipe_label
from estimator.cost.lines import cost_lines, days_late, fuel_volume
from estimator.cost.markup import make_bid

__all__ = [
    "cost_lines",
    "days_late",
    "fuel_volume",
    "make_bid",
    "pipe_label",
    "price_items",
    "share_cost",
]
