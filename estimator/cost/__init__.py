"""Cost and price: quantities times the user's rates, and the markup chain.

In: the plan, what is on rent, the hydrotests, the rates.
Out: cost lines, bid price, cost by run and by size, bid items; each to the cent.
May not know: how the plan or the choice of equipment came about.
"""

from estimator.cost.bid_items import item_of_run, price_items, unit_price
from estimator.cost.by_run import (
    cost_in_item,
    cost_of_run,
    cost_of_tie_ins,
    run_before_bond,
    share_cost,
)
from estimator.cost.by_size import price_of_part, price_per_joint
from estimator.cost.lines import cost_lines, days_late, fuel_volume
from estimator.cost.markup import (
    ByType,
    TypeMarkup,
    cost_by_type,
    make_bid,
    markup_by_type,
    price_factor,
    price_factors,
)
from estimator.cost.materials import tests_by_run
from estimator.cost.owner_items import item_name
from estimator.cost.rates import DIRECT

__all__ = [
    "DIRECT",
    "ByType",
    "TypeMarkup",
    "cost_by_type",
    "cost_in_item",
    "cost_lines",
    "cost_of_run",
    "cost_of_tie_ins",
    "days_late",
    "fuel_volume",
    "item_name",
    "item_of_run",
    "make_bid",
    "markup_by_type",
    "price_factor",
    "price_factors",
    "price_items",
    "price_of_part",
    "price_per_joint",
    "run_before_bond",
    "share_cost",
    "tests_by_run",
    "unit_price",
]
