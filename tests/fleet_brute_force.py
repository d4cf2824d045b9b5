"""The least cost of a fleet problem by trying every assignment, written apart from the model.

Days are counted in steps, rental mixes by trying every number of four-weeks and weeks.
"""

import itertools
import math


def rental(calendar_days, hire):
    """Return the cheapest mix for these days, with both trips, by trying all of them."""
    costs = []
    for four_weeks in range(calendar_days // 28 + 2):
        for weeks in range(calendar_days // 7 + 2):
            left = max(0, calendar_days - 28 * four_weeks - 7 * weeks)
            costs.append(four_weeks * hire.four_weeks + weeks * hire.week + left * hire.day)
    return min(costs) + hire.delivery + hire.delivery


def shifts(minutes, shift_min):
    """Return how many shifts it takes to spend these minutes."""
    used = 0
    while minutes > 1e-6 * shift_min:
        minutes -= shift_min
        used += 1
    return used


def spanned(working_days, share, haul_days=0):
    """Return the calendar days from the first to the last of some working days, with haulage."""
    return math.ceil(haul_days + 1 + (working_days - 1) * share + haul_days - 1e-6)


def cost_of(problem, assignment):
    """Return what an assignment costs, None where it needs more than the stock."""
    holders = {machine.class_id: set() for machine in problem.classes}
    for class_id, crew in assignment:
        holders[class_id].add(crew)
    if any(len(holders[m.class_id]) > m.most_crews for m in problem.classes):
        return None
    lowest = min(item.day_rate for item in problem.items)
    total, finish = 0.0, problem.least_days
    for crew in range(1, problem.crews + 1):
        mine = [(i, c) for i, (c, k) in zip(problem.items, assignment, strict=True) if k == crew]
        if not mine:
            continue
        total += problem.crew_cost
        whole = 0.0
        for machine in problem.classes:
            items = [item for item, class_id in mine if class_id == machine.class_id]
            if not items:
                continue
            minutes = -problem.move_min
            for item in items:
                minutes += item.minutes
                total += item.minutes / problem.shift_min * (item.day_rate - lowest)
            changes = []
            for size in {item.size for item in items}:
                minutes += problem.sizes[size].test_min
                changes.append(problem.sizes[size].change_min)
            minutes += sum(sorted(changes)[:-1])
            days = shifts(minutes, problem.shift_min)
            calendar = spanned(days, problem.calendar_share, problem.haul_days)
            total += sum(rental(calendar, hire) for hire in machine.hires)
            total += days * machine.day_cost
            whole += minutes + problem.swap_min
        days = shifts(whole - problem.swap_min, problem.shift_min)
        total += days * lowest
        calendar = spanned(days, problem.calendar_share, problem.haul_days)
        total += sum(rental(calendar, hire) for hire in problem.equipment)
        finish = max(finish, days)
    late = 0
    if problem.days_allowed is not None:
        late = max(0, spanned(finish, problem.calendar_share) - problem.days_allowed)
    return total + finish * problem.site_day + late * problem.liquidated_damages


def least_cost(problem):
    """Return the least cost over all assignments, None where none keeps to the stock."""
    choices = [list(itertools.product(item.classes, item.crews)) for item in problem.items]
    costs = [cost_of(problem, assignment) for assignment in itertools.product(*choices)]
    return min((cost for cost in costs if cost is not None), default=None)
