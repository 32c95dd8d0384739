"""A simulation as a table: what each way of working costs, and how many vehicles it cures."""

from shiftlore.reports.wording import WIDTH, say_minutes, say_percent, wrap_lines
from shiftlore.simulating import PolicyResult, Simulation

NAMES = {
    "planner": "this planner",
    "cheapest_check": "cheapest check first",
    "likeliest_cause": "likeliest cause first",
    "fixed_order": "fixed order of checks",
    "overhaul": "overhaul at once",
}
NOTE = (
    "Vehicles are drawn from this knowledge itself, so the table compares ways of working; it does not prove that the "
    "knowledge is right. Totals hold labour, parts, access, comebacks and what an uncured vehicle costs."
)


def render_simulation(simulation: Simulation, width: int = WIDTH) -> str:
    """Write the results as a table of at most 80 columns, with what was drawn above it."""
    lines = wrap_lines(
        f"{simulation.vehicles} vehicles of {simulation.unit}, seed {simulation.seed}, "
        f"{simulation.seconds:.0f} s. Money in {simulation.currency}.", width=width,
    )
    lines += ["", f"{'way of working':<23}{'mean':>8}{'95 % interval':>18}{'cured':>9}{'checks':>8}{'labour':>14}"]
    lines += [_render_row(policy) for policy in simulation.policies]
    return "\n".join([*lines, "", *wrap_lines(NOTE, width=width)])


def _render_row(policy: PolicyResult) -> str:
    name = NAMES.get(policy.policy, policy.policy.replace("_", " "))[:22]
    span = f"{policy.low:,.0f} to {policy.high:,.0f}"
    cured = say_percent(policy.share_cured)
    cured = "100 %" if policy.share_cured == 1.0 else cured.replace("over ", ">").replace("under ", "<")
    labour = say_minutes(policy.mean_labour_minutes)
    return f"{name:<23}{policy.mean_total:>8,.0f}{span:>18}{cured:>9}{policy.mean_checks:>8.1f}{labour:>14}"
