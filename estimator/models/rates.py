"""What things cost: the Rates sheet and the prices of pieces, in the user's own units."""

from collections.abc import Collection, Mapping
from typing import ClassVar, Literal

from estimator.inputs.dictionary import fields
from estimator.models.accept import accept
from estimator.models.bands import Band
from estimator.models.base import Model, ModelField
from estimator.models.kinds import MARKUP_TYPES, ItemName


class MoneyRate(Model):
    """An amount of money per unit, as entered; ``per`` is the unit's label, e.g. ``ft``."""

    amount: float
    per: str


class Rates(Model):
    """The Rates sheet: prices and the markup chain.

    A price that only the table of cost lines asks for, by its key, is not declared here: every
    price in the input list is a field.
    """

    TABLE: ClassVar[str] = "rates"

    fuel_price: MoneyRate
    damage_waiver: float = 0.0
    rental_day_hours: float | None = None
    rental_week_hours: float = 40.0
    rental_four_week_hours: float = 160.0
    pipe_waste: float
    hydro_wage: MoneyRate | None = None
    hydro_water: MoneyRate | None = None
    hydro_disposal: MoneyRate | None = None
    small_tools: float
    office_overhead: float
    contingency: float
    profit: float
    profit_basis: Literal["markup on cost", "margin on price"]
    overhead_labor: float | None = None
    overhead_equipment: float | None = None
    overhead_materials: float | None = None
    overhead_subcontract: float | None = None
    overhead_other: float | None = None
    contingency_labor: float | None = None
    contingency_equipment: float | None = None
    contingency_materials: float | None = None
    contingency_subcontract: float | None = None
    contingency_other: float | None = None
    profit_labor: float | None = None
    profit_equipment: float | None = None
    profit_materials: float | None = None
    profit_subcontract: float | None = None
    profit_other: float | None = None
    damages_carry: Literal["no markup", "markups"] = "no markup"
    bond: float
    tax: float
    validity_days: int
    unit_price_step: float | None = None
    bid_step: float | None = None

    @classmethod
    def listed_fields(cls, declared: Collection[str]) -> Mapping[str, ModelField]:
        """Return the prices of the input list that are not declared."""
        may_be_blank = MoneyRate | None
        return {
            field.key: ModelField(MoneyRate, ..., accept(MoneyRate))
            if field.required
            else ModelField(may_be_blank, None, accept(may_be_blank))
            for field in fields(cls.TABLE)
            if field.kind == "money" and field.key not in declared
        }

    def price(self, key: str) -> MoneyRate | None:
        """Return a price by its key in the input list, None where it is left blank."""
        found: MoneyRate | None = getattr(self, key)
        return found

    @property
    def marks_up_by_type(self) -> bool:
        """Whether a type of cost has an overhead, contingency or profit of its own."""
        return any(
            getattr(self, f"{markup}_{of_type}") is not None
            for markup in ("overhead", "contingency", "profit")
            for of_type in MARKUP_TYPES
        )


class MaterialPrice(Model):
    """Price of one piece by size band; a blank falls back on the Rates sheet."""

    TABLE: ClassVar[str] = "material_prices"
    ROW: ClassVar[str] = "what"

    what: ItemName
    price_a: MoneyRate | None = None
    price_b: MoneyRate | None = None
    price_c: MoneyRate | None = None
    price_d: MoneyRate | None = None
    price_e: MoneyRate | None = None
    basis: str | None = None

    def price(self, band: Band) -> MoneyRate | None:
        """Return the price on that size band, None where there is none."""
        found: MoneyRate | None = getattr(self, price_key(band))
        return found


def price_key(band: Band) -> str:
    """Return the column of a size band in the table of material prices."""
    return f"price_{band.lower()}"
