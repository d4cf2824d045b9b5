"""What the commands after award say, as data for other programs. SI units, dates as ISO text."""

from collections.abc import Sequence
from typing import Any, Literal

from estimator.equipment.quotes import ComparedQuote, QuoteComparison
from estimator.export.plain import plain
from estimator.models.baseline import Baseline
from estimator.models.rental_request import RequestLine
from estimator.progress.change_price import ChangePrice
from estimator.progress.claim import Claim, ClaimLine
from estimator.progress.field_cards import FieldCard
from estimator.progress.joint_log import CouponDue, JudgedJoint, JudgedLog
from estimator.progress.past import Suggestion


def baseline_json(baseline: Baseline) -> dict[str, Any]:
    """Return a baseline: its head, runs, days, items and lump sums."""
    found = plain(baseline)
    return {key: found[key] for key in ("head", "runs", "days", "lump_sums", "items")}


def cards_json(cards: Sequence[FieldCard]) -> dict[str, Any]:
    """Return the field cards."""
    return {"cards": plain(cards)}


def log_json(judged: JudgedLog, due: Sequence[CouponDue]) -> dict[str, Any]:
    """Return what a joint log adds up to, and what is open in it."""
    keys: tuple[tuple[str, Literal["run_id", "operator", "machine_no"]], ...] = (
        ("by_run", "run_id"),
        ("by_operator", "operator"),
        ("by_machine", "machine_no"),
    )
    found: dict[str, Any] = {
        name: [plain(tally) | {"reject_share": tally.reject_share} for tally in judged.tallies(key)]
        for name, key in keys
    }
    return found | {
        "open_rejects": [_joint(one) for one in judged.open_rejects],
        "on_hold": [_joint(one) for one in judged.with_verdict("hold")],
        "out_of_limits": [_joint(one) for one in judged.with_verdict("out of limits")],
        "incomplete": [_joint(one) for one in judged.with_verdict("incomplete")],
        "coupons_due": plain(due),
        "rejects_by_cause": dict(judged.causes()),
    }


def _joint(one: JudgedJoint) -> dict[str, Any]:
    return {"joint_no": one.joint.joint_no, "run_id": one.joint.run_id, "reasons": [*one.reasons]}


def request_json(
    lines: Sequence[RequestLine], comparison: QuoteComparison | None
) -> dict[str, Any]:
    """Return the lines of a rental request, and the quotes compared on them."""
    return {
        "lines": plain(lines),
        "quotes": [] if comparison is None else [_quote(one) for one in comparison.quotes],
        "choices": []
        if comparison is None
        else [
            {
                "kind": one.kind,
                "single": one.single or None,
                "single_cost": float(one.single_cost) if one.single else None,
                "mix": [quote.number for quote in one.mix],
                "mix_cost": float(one.mix_cost),
                "open_lines": [*one.open_lines],
            }
            for one in comparison.choices
        ],
    }


def _quote(one: ComparedQuote) -> dict[str, Any]:
    return {
        "number": one.number,
        "line": one.line.number,
        "supplier": one.quote.supplier,
        "cost": float(one.cost),
        "cost_two_weeks_later": float(one.cost_later),
        "cost_one_week_sooner": float(one.cost_sooner),
        "cost_two_weeks_on_standby": None if one.cost_held is None else float(one.cost_held),
        "why_not": [*one.why_not],
        "lapsed": one.lapsed,
    }


def claim_json(claim: Claim) -> dict[str, Any]:
    """Return a claim, line by line, and what is due."""
    return {
        "number": claim.number,
        "date": claim.date.isoformat(),
        "items": [_claim_line(line) for line in claim.items],
        "changes": [_claim_line(line) for line in claim.changes],
        "contract": float(claim.contract),
        "work_to_date": float(claim.total),
        "retention": claim.retention,
        "retained": float(claim.retained),
        "released": float(claim.released),
        "due_before": float(claim.due_before),
        "due": float(claim.due),
    }


def _claim_line(line: ClaimLine) -> dict[str, Any]:
    amounts = {"amount_to_date": float(line.amount_to_date), "amount": float(line.amount)}
    found: dict[str, Any] = plain(line)
    return found | amounts


def change_json(number: str, priced: ChangePrice) -> dict[str, Any]:
    """Return what a change costs and how many working days it moves the finish by."""
    return {
        "number": number,
        "price": float(priced.price),
        "days": priced.days,
        "finish_without": priced.without.finish.isoformat(),
        "finish_with": priced.with_it.finish.isoformat(),
    }


def past_json(suggestions: Sequence[Suggestion]) -> dict[str, Any]:
    """Return what past jobs suggest, by size band."""
    return {"sizes": plain(suggestions)}
