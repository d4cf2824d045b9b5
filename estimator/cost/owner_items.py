"""Our bid items as the owner's bid form numbers, words and joins them."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from estimator.inputs.dictionary import squeeze
from estimator.models.bid_inputs import OwnerItem
from estimator.models.run_costs import ITEM_GROUPS, BidItem
from estimator.money import round_money
from estimator.standards.pipe_names import as_called_now


def as_owner_asks(items: Sequence[BidItem], rows: Sequence[OwnerItem]) -> list[BidItem]:
    """Return our items with the owner's numbers and wording, in the owner's order.

    Rows with the same number make one item: its cost is that of all, its quantity and unit are
    those of the first, to which others in the same unit add theirs. Items without a row follow
    those of their group. Without any rows the items are numbered from 1.
    """
    ours = {item_name(item.key): item for item in items}
    numbered: dict[str, BidItem] = {}
    for row in rows:
        item = ours.pop(item_name(row.item), None)
        if item is not None:
            before = numbered.get(row.owner_no)
            numbered[row.owner_no] = _first(item, row) if before is None else _joined(before, item)
    found = sorted((*numbered.values(), *ours.values()), key=lambda i: ITEM_GROUPS.index(i.group))
    if not rows:
        found = [replace(item, number=str(n)) for n, item in enumerate(found, 1)]
    return found


def of_one_name(items: Iterable[BidItem]) -> tuple[BidItem, ...]:
    """Return our items with those of one name joined: a cost may name an item that is measured.

    The item that is measured, of pipe or of tie-ins, keeps its words, quantity and unit.
    """
    found: dict[str, BidItem] = {}
    for item in items:
        name = item_name(item.key)
        alike = (found[name], item) if name in found else (item,)
        head, *others = sorted(alike, key=lambda one: one.lump_sum)
        for other in others:
            head = replace(_joined(head, other), keys=head.keys)
        found[name] = head
    return tuple(found.values())


def item_name(text: str) -> str:
    """Return a name of one of our items to compare it: case, blanks and old names are alike.

    >>> item_name("IPS 24 DR 17 furnished") == item_name("24 in IPS DR17 Furnished")
    True
    """
    return squeeze(as_called_now(text))


def _first(item: BidItem, row: OwnerItem) -> BidItem:
    price = row.price.amount if row.price is not None else None
    return replace(
        item,
        number=row.owner_no,
        description=row.owner_text or item.description,
        work=None if row.owner_text else item.work,
        unit=row.unit or item.unit,
        own_unit=item.unit,
        unit_price=Decimal(0) if price is None else round_money(price),
        fixed_price=price is not None,
    )


def _joined(item: BidItem, other: BidItem) -> BidItem:
    """Return an item of the owner's that holds another one of ours too."""
    more = other.quantity if other.unit == item.own_unit and not item.lump_sum else 0.0
    return replace(
        item,
        quantity=item.quantity + more,
        cost=item.cost + other.cost,
        before_bond=item.before_bond + other.before_bond,
        parts=(*item.parts, *other.parts),
        keys=(*item.keys, *other.keys),
    )
