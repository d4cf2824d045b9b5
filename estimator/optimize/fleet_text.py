"""The choice of classes and crews over the job in plain words."""

from collections.abc import Iterator

from estimator.models.fleet_outcome import Candidate, FleetOutcome

HOW = (
    "The model uses whole shifts and average calendar days. Each job cost is from a full "
    "estimate; the cheapest is kept."
)


def sentences(found: FleetOutcome, currency: str) -> Iterator[str]:
    """Yield what was kept and saved, what the model says, and each estimate that was tried."""
    saving = found.saving
    word = "saves" if saving >= 0 else "costs"
    more = "" if saving >= 0 else " more but stays within stock"
    yield (
        f"Kept: {found.kept}. It {word} {currency} {abs(saving):,.2f}{more} compared with run "
        "by run"
    )
    yield _model(found, currency)
    yield from (_candidate(one, currency) for one in found.candidates)
    yield HOW


def _model(found: FleetOutcome, currency: str) -> str:
    if found.model_cost is None or found.bound is None or found.gap is None:
        return f"Model: {found.note}"
    how = "solved" if found.finished else "best found within the time limit"
    alone = "" if found.items == found.runs else f" in {found.items} groups"
    return (
        f"Model of {found.runs} runs{alone}: cost {currency} {found.model_cost:,.0f}, lower "
        f"bound {currency} {found.bound:,.0f}, gap {found.gap:.2%}; {how}"
    )


def _candidate(one: Candidate, currency: str) -> str:
    if one.job_cost is None or one.finish is None:
        return f"Full estimate, {one.name}: not possible: {one.why_not}"
    stock = "; needs more than is in stock" if one.short_of_stock else ""
    return (
        f"Full estimate, {one.name}: job cost {currency} {one.job_cost:,.2f}, finish "
        f"{one.finish:%d %b %Y}{stock}"
    )
