"""What the bid schedule should make the bidder look at again."""

from collections.abc import Iterator

from estimator.cost import item_name
from estimator.errors import Problem, nearest
from estimator.models.estimate import Estimate
from estimator.models.places import Places

TABLE = "owner_items"


def owner_items_unmatched(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name rows of the owner's items that are not on the bid schedule, and items without a row."""
    rows = estimate.job.owner_items
    held = {item_name(key): key for item in estimate.items for key in item.keys}
    for row in rows:
        if item_name(row.item) not in held:
            near = nearest(row.item, held.values()) or list(held.values())
            yield Problem(
                places.where(TABLE, row.item, "item"),
                f"Our item: {row.item!r} has no cost on this bid, so that the owner's item "
                f"{row.owner_no} is not on the Bid schedule. Items: {', '.join(near)}",
                serious=True,
            )
    named = {item_name(row.item) for row in rows}
    for item in estimate.items if rows else ():
        for key in item.keys:
            if item_name(key) not in named:
                yield Problem(
                    "Bid items",
                    f"{key} is on the Bid schedule without an owner's number. Give it a row; "
                    "with the number of another item it becomes a part of that",
                    serious=True,
                )


def lump_sum_below_zero(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Say that the item which takes the rounding has come out below zero."""
    for item in estimate.items:
        if item.balances and item.amount < 0:
            yield Problem(
                places.where("rates", "", "unit_price_step"),
                f"{item.description} on the Bid schedule is {item.amount:,.2f}: it takes what unit "
                "prices typed in or rounded leave of the bid price. Change those",
                serious=True,
            )
