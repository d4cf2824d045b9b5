"""The choice of classes and crews over the job in plain words."""

from collections.abc import Iterator

from estimator.models.fleet_outcome import Candidate, FleetOutcome

HOW = (
    "The model counts whole shifts and mean calendar days; the job cost is that of a whole "
    "estimate, and the cheapest is kept."
)


def sentences(found: FleetOutcome, currency: str) -> Iterator[str]:
    """Yield what was kept and saved, what the model says, and each estimate that was tried."""
    saving = found.saving
    word = "saves" if saving >= 0 else "costs"
    more = "" if saving >= 0 else " more, but stays within the stock"
    yield f"Kept: {found.kept}; {word} {currency} {abs(saving):,.2f}{more} against run by run"
    yield _model(found, currency)
    yield from (_candidate(one, currency) for one in found.candidates)
    yield HOW


def _model(found: FleetOutcome, currency: str) -> str:
    if found.model_cost is None or found.bound is None or found.gap is None:
        return f"Model: {found.note}"
    how = "solved" if found.finished else "the best found in the time"
    alone = "" if found.items == found.runs else f" in {found.items} bundles"
    return (
        f"Model of {found.runs} runs{alone}: cost {currency} {found.model_cost:,.0f}, not below "
        f"{currency} {found.bound:,.0f}, gap {found.gap:.2%}; {how}"
    )


def _candidate(one: Candidate, currency: str) -> str:
    if one.job_cost is None or one.finish is None:
        return f"Estimate, {one.name}: cannot be done: {one.why_not}"
    stock = "; holds more than is in stock" if one.short_of_stock else ""
    return (
        f"Estimate, {one.name}: job cost {currency} {one.job_cost:,.2f}, "
        f"finish {one.finish:%d %b %Y}{stock}"
    )
