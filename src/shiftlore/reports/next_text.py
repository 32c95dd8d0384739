"""The next steps as text for the bench: what to do, what it costs, what it would tell or cure, and when to stop.

And the check order as a tree in plain text, and as a graph in two open text formats: Mermaid and Graphviz DOT.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from shiftlore.advising import BUDGET, CLOSED, RARE, NextStep, NextSteps, name_cause, name_job, name_jobs, say_share
from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import name_in_general
from shiftlore.planning import LEAVING, Branch, Chance, TreeNode
from shiftlore.reports.wording import (
    PROCEDURE_FIRST,
    READ_LOG,
    WIDTH,
    Mark,
    leave_plain,
    say_first,
    say_minutes,
    say_money,
    say_percent,
    say_price_basis,
    wrap_banner,
    wrap_lines,
)

SHOWN_STEPS = 5
SHOWN_FINDINGS = 4
SHOWN_CURES = 3
INDENT = " " * 4


def render_next(
    plan: NextSteps,
    compiled: CompiledCase,
    width: int = WIDTH,
    strong: Mark = leave_plain,
    *,
    count: int = SHOWN_STEPS,
) -> str:
    """Write the next steps as text.

    Args:
        compiled: the case that the plan is for; its labels are used.
        strong: how headings are set off; leaves the text alone by default.
        count: at most so many steps.
    """
    shown = plan.steps[:count]
    level = compiled.knowledge.access[compiled.case.access].label
    if plan.stop.reason == CLOSED:
        return "\n".join([strong("What to do next"), *wrap_lines(f"Stop. {plan.stop.why}", width=width)])
    lines = [*wrap_banner(plan.stop.danger, width, strong), strong("What to do next")]
    lines += wrap_lines(f"The vehicle now: {level.lower()}.", width=width)
    if first := say_first(plan.others_work, plan.warranty):
        lines += ["", *(strong(line) for line in wrap_lines(first, width=width))]
    for asked in plan.asked_first:
        answers = ", ".join(f'"{key}" ({label})' for key, label in asked.answers.items())
        ask = f"Ask first, for it costs nothing: {asked.ask} Under background, {asked.id}: {answers}."
        lines += ["", *(strong(line) for line in wrap_lines(ask, width=width))]
    for place, step in enumerate(shown, 1):
        lines += ["", *_render_step(place, step, plan.currency, compiled, width=width, strong=strong)]
    if not shown:
        within = " within the budget" if plan.stop.reason == BUDGET else ""
        lines += ["", *wrap_lines(f"Nothing that this shop can do{within} is worth its cost here.", width=width)]
    lines += ["", strong("Check further, or stop?")]
    lines += wrap_lines(("Stop checking. " if plan.stop.advised else "Go on checking. ") + plan.stop.why, width=width)
    lines += ["", strong("What it is expected to cost from here"), *_render_costs(plan, compiled, width)]
    lines += _render_cautions(shown, compiled, width, strong)
    if basis := say_price_basis(plan.invented, plan.tax_percent):
        lines += ["", *wrap_lines(basis, width=width)]
    return "\n".join(lines)


def list_cautions(steps: Iterable[NextStep]) -> list[str]:
    """List the cautions of some steps, each once, in order."""
    return list(dict.fromkeys(caution for step in steps for caution in step.cautions))


def _render_step(
    place: int, step: NextStep, currency: str, compiled: CompiledCase, *, width: int, strong: Mark
) -> list[str]:
    word = "Check" if step.kind == "check" else "Job"
    lines = [strong(line) for line in wrap_lines(f"{word}: {step.label}", INDENT, f"{place:>2}. ", width)]
    cost = f"costs {say_money(step.cost.total, currency)}, {say_minutes(step.cost.labour_minutes)}"
    if step.cost.parts_high - step.cost.parts_low >= 1.0:
        cost += f" (parts {step.cost.parts_low:,.0f} to {step.cost.parts_high:,.0f})"
    if step.cost.closing_first >= 1.0:
        cost += f", {say_money(step.cost.closing_first, currency)} of it for closing and filling first"
    if step.cost.borrowed >= 1.0:
        cost += f", {say_money(step.cost.borrowed, currency)} of it for a borrowed tool"
    if step.cost.waiting >= 1.0:
        cost += f", {say_money(step.cost.waiting, currency)} of it for the time that the vehicle waits"
    agreed = ", if more than the budget is then agreed" if step.beyond_budget else ""
    after = say_money(step.expected_total_after, currency)
    lines += wrap_lines(f"{cost}; then {after} expected{agreed}", INDENT, width=width)
    if step.access_needed != compiled.case.access:
        needed = compiled.knowledge.access[step.access_needed].label.lower()
        lines += wrap_lines(f"needs: {needed}", INDENT, width=width)
    told = _say_tells(step, compiled) if step.kind == "check" else _say_cures(step, compiled)
    lines += wrap_lines(told, INDENT + " " * 7, INDENT, width)
    if step.kind == "check":
        lines += wrap_lines(_say_sureness(step, compiled), INDENT + " " * 6, INDENT, width)
        if any(compiled.expansion.checks[check].recorded for check in step.together):
            lines += wrap_lines(f"log: {READ_LOG}", INDENT + " " * 5, INDENT, width)
    lines += wrap_lines(f"why: {step.why}", INDENT + " " * 5, INDENT, width)
    if step.cautions:
        names = ", ".join(step.cautions).replace("_", " ")
        lines += [strong(line) for line in wrap_lines(f"mind: {names}", INDENT + " " * 6, INDENT, width)]
    return lines


def _say_tells(step: NextStep, compiled: CompiledCase) -> str:
    """Say what a check answers, findings of one template once."""
    labels = list(dict.fromkeys(name_finding(compiled, finding) for finding in step.reveals))
    more = len(labels) - SHOWN_FINDINGS
    text = "; ".join(labels[:SHOWN_FINDINGS]) + (f"; and {more} more" if more > 0 else "")
    changes = getattr(step.reason, "p_changes", 0.0)
    if changes < RARE:
        why = "it pays by what comes after it" if step.expected_saving > 0.0 else "but it costs little beside the work"
        return f"tells: {text}. By itself it hardly ever changes what you repair first; {why}."
    return f"tells: {text}. In {say_share(changes)} such vehicles the result changes what you repair first."


def _say_sureness(step: NextStep, compiled: CompiledCase) -> str:
    """Say how far a check can be trusted, by the least sure of its parts."""
    records = [compiled.expansion.checks[check] for check in step.together]
    missed, false_alarm = (max(getattr(record, name) for record in records) for name in ("missed", "false_alarm"))
    return f"sure: misses a true sign in {say_percent(missed)}, shows a false one in {say_percent(false_alarm)}"


def _say_cures(step: NextStep, compiled: CompiledCase) -> str:
    """Say what a job puts right, and the chance that the vehicle is then cured."""
    causes = compiled.expansion.causes
    cured = [one for one in step.cures if one.cause in causes][:SHOWN_CURES]
    named = [f"{causes[one.cause].label} ({say_percent(one.probability)})" for one in cured]
    sure = f"cures the vehicle: {say_percent(step.p_cured)}"
    return f"{sure}. Puts right, if that is it: {'; '.join(named)}" if named else sure


def name_finding(compiled: CompiledCase, finding: str) -> str:
    """Name a finding; one of a template by what all of them have in common."""
    return name_in_general(compiled.expansion.finding_records[finding])


def _render_costs(plan: NextSteps, compiled: CompiledCase, width: int) -> list[str]:
    """Write the expected cost, its bounds, and the plan of jobs."""
    low, high = (say_money(bound, plan.currency) for bound in (plan.lower_bound, plan.upper_bound))
    now = say_money(plan.expected_total_now, plan.currency)
    best = f"The best plan from here costs {low} at the very least and {high} at most, on average."
    says = f"{now} on average if nothing more is checked. {best} This includes vehicles that we fail to cure."
    lines = wrap_lines(says, width=width)
    labels = [" + ".join(name_job(compiled, job) for job in batch) for batch in plan.plan.batches]
    if labels:
        cures = f"That cures {say_percent(plan.plan.p_cured)}."
        text = f"Jobs in order, if nothing more is checked: {', then '.join(labels)}. {cures}"
        lines += wrap_lines(text, width=width)
    return lines


def _render_cautions(steps: Sequence[NextStep], compiled: CompiledCase, width: int, strong: Mark) -> list[str]:
    cautions = list_cautions(steps)
    if not cautions:
        return ["", *wrap_lines(PROCEDURE_FIRST, width=width)]
    lines = ["", strong("Mind")]
    for caution in cautions:
        says = compiled.knowledge.cautions[caution].says
        lines += wrap_lines(f"{caution.replace('_', ' ')}: {says}", INDENT, "- ", width)
    return [*lines, *wrap_lines("The maker's procedure and the local rules come before all of this.", width=width)]


BOXES = ("├─ ", "└─ ", "│  ", "   ")
BOX_WIDTH, EDGE_WIDTH = 34, 26
ASCII = ("+- ", "`- ", "|  ", "   ")
TOLD_ANSWERS = 3
TOLD_LABELS = 2
TOLD_BATCHES = 2
TOLD_CAUSES = 3

WHY_STOP = {
    "no_check_pays": "no check saves much more than it costs",
    "no_check_matters": "the same work follows, whatever a check shows",
    "no_check_left": "there is no check left",
    "job_pays_more": "the work pays better than any check",
    LEAVING: "any work costs more than it is worth",
    BUDGET: "the budget does not pay the likely repair",
}

_MARKUP = re.compile(r"[^\w \-.,:;()%+/?']|_")
"""What a Mermaid label must not hold as it is: everything but letters, digits and harmless signs."""
Box = tuple[str, str, str]
Edge = tuple[str, str, str]


def render_tree(
    tree: TreeNode,
    compiled: CompiledCase,
    currency: str,
    *,
    width: int = WIDTH,
    boxes: bool = False,
    strong: Mark = leave_plain,
    listed: float | None = None,
) -> str:
    """Write a check-order tree as text.

    Args:
        listed: what the list of next steps expects in all of the same first step, so that a difference is explained.
        boxes: draw the lines with box characters; else with plus, bar and minus.
        strong: how the things to do are set off.
    """
    title = f"Check order ({compiled.expansion.unit}). In brackets: what the step costs, then what is expected in all."
    lines = [strong(line) for line in wrap_lines(title, width=width)]
    now = [Chance(compiled.causes[i], float(compiled.causes_now[i])) for i in np.argsort(-compiled.causes_now)]
    lines += wrap_lines(f"Now likeliest: {_say_chances(now[:TOLD_CAUSES], compiled)}.", width=width)
    lines += ["", *_render_node(tree, compiled, "", width=width, signs=BOXES if boxes else ASCII, strong=strong)]
    last = (
        f"Money in {currency}. Ask again: the way there is rare (--fold) or long (--depth); enter the answer into the "
        "case and run `shiftlore next`. It tells the cautions of each step too. The maker's procedure and the local "
        "rules come first."
    )
    if listed is not None and round(listed) != round(tree.expected_total):
        last += (
            f" `shiftlore next` expects {say_money(listed, currency)} in all of the same first step: it looks a step or "
            "two ahead and then reckons with jobs alone, while here each answer is followed and thought through anew."
        )
    return "\n".join([*lines, "", *wrap_lines(last, width=width)])


def _render_node(
    node: TreeNode, compiled: CompiledCase, margin: str, *, width: int, signs: Sequence[str], strong: Mark
) -> list[str]:
    text = say_node(node, compiled) + (", then ask again" if is_cut_off(node) else "")
    lines = [strong(line) for line in wrap_lines(text, margin + "  ", margin, width)]
    if is_cut_off(node) and node.kind == "job" and (meaning := say_meaning(node.branches[0], compiled)):
        lines += wrap_lines(f"Not cured? {meaning}", margin + "  ", margin, width)
    for place, branch in enumerate(() if is_cut_off(node) else node.branches):
        is_last = place == len(node.branches) - 1
        below = margin + (signs[3] if is_last else signs[2])
        first = margin + (signs[1] if is_last else signs[0])
        lines += wrap_lines(say_branch(node, branch, compiled), below, first, width)
        if meaning := say_meaning(branch, compiled):
            lines += wrap_lines(meaning, below + "  ", below, width)
        if branch.node is not None:
            lines += _render_node(branch.node, compiled, below, width=width, signs=signs, strong=strong)
    return lines


def is_cut_off(node: TreeNode) -> bool:
    """Tell whether every answer at this place is too rare to be followed on the tree."""
    return bool(node.branches) and all(branch.node is None for branch in node.branches)


def say_node(node: TreeNode, compiled: CompiledCase) -> str:
    """Say what is done at one place of the tree, and what it costs."""
    if node.kind == "check":
        names = " + ".join(compiled.expansion.checks[check].label for check in node.ids)
        return f"CHECK {names} ({_say_cost(node)})"
    if node.kind == "job":
        cured = say_percent(node.p_cured)
        return f"DO {name_jobs(compiled, node.ids)} ({_say_cost(node)}), cures {cured}"
    named = [name_jobs(compiled, batch) for batch in node.batches]
    more = len(named) - TOLD_BATCHES
    plan = ", then ".join(named[:TOLD_BATCHES]) or "leave it as it is"
    plan += f", then {more} more" if more > 0 else ""
    cost = f"({node.expected_total:,.0f} in all), cures {say_percent(node.p_cured)}"
    if not named:
        cost = f"(nothing is paid for it; a vehicle that nobody cures is counted with {node.expected_total:,.0f})"
    if node.kind == "deep":
        return f"ASK AGAIN; without more checks: {plan} {cost}"
    why = WHY_STOP.get(node.why)
    return f"STOP checking{f': {why}' if why else ''}. {plan[:1].upper()}{plan[1:]} {cost}"


def _say_cost(node: TreeNode) -> str:
    return f"{node.cost:,.0f}, {say_minutes(node.labour_minutes)}; {node.expected_total:,.0f} in all"


def say_branch(node: TreeNode, branch: Branch, compiled: CompiledCase) -> str:
    """Say which answer leads along a branch, and how probable it is."""
    said = "not cured" if node.kind == "job" else say_answers(node, branch, compiled)
    text = f"{say_percent(branch.p)} {said}"
    return text if branch.node is not None else f"{text}: ask again"


def say_meaning(branch: Branch, compiled: CompiledCase) -> str:
    """Say what an answer means: which causes it leaves, with their chance, and which it rules out."""
    left = f"Then likeliest: {_say_chances(branch.leaves, compiled)}." if branch.leaves else ""
    named, more = branch.rules_out[:TOLD_CAUSES], len(branch.rules_out) - TOLD_CAUSES
    gone = ", ".join(name_cause(compiled, cause) for cause in named) + (f" and {more} more" if more > 0 else "")
    return " ".join(text for text in (left, f"Ruled out: {gone}." if gone else "") if text)


def _say_chances(chances: Sequence[Chance], compiled: CompiledCase) -> str:
    return ", ".join(f"{name_cause(compiled, one.cause)} {say_percent(one.probability)}" for one in chances)


def say_answers(node: TreeNode, branch: Branch, compiled: CompiledCase) -> str:
    """Say a branch's answers: what is not as it should be, or that all is."""
    if len(node.branches) == 1:
        return "whatever it shows"
    if not branch.answers:
        return " or ".join(branch.labels[:TOLD_LABELS])
    if len(branch.answers) > TOLD_LABELS:
        shared = _shared_by(branch.answers)
        odd = _odd_of(shared, compiled)
        return _say_odd(odd, compiled) + " (and more)" if odd else "anything else"
    said = list(dict.fromkeys(_say_odd(_odd_of(answers, compiled), compiled) for answers in branch.answers))
    return "; or ".join(said)


def _shared_by(answers: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """Keep what all of these answers say alike."""
    first, *others = answers
    return {key: grade for key, grade in first.items() if all(other.get(key) == grade for other in others)}


def _odd_of(answers: Mapping[str, str], compiled: CompiledCase) -> dict[str, str]:
    """Keep the answers that are not the sound one."""
    findings = compiled.expansion.findings
    return {key: grade for key, grade in answers.items() if grade != findings[key].grades[0]}


def _say_odd(odd: Mapping[str, str], compiled: CompiledCase) -> str:
    if not odd:
        return "all as it should be"
    said = [_say_answer(compiled, key, grade) for key, grade in odd.items()]
    more = len(said) - TOLD_ANSWERS
    return ", ".join(said[:TOLD_ANSWERS]) + (f", and {more} more" if more > 0 else "")


def _say_answer(compiled: CompiledCase, finding: str, grade: str) -> str:
    """Say an answer; a plain yes is said by the label alone."""
    expansion = compiled.expansion
    return expansion.findings[finding].label if grade == "yes" else expansion.name_answer(finding, grade)


def list_labels(node: TreeNode, compiled: CompiledCase) -> dict[str, str]:
    """List the labels of all checks, jobs and causes of a tree, by id."""
    ids = [*node.ids, *(job for batch in node.batches for job in batch)]
    checks, jobs = compiled.expansion.checks, compiled.expansion.jobs
    labels = {key: checks[key].label for key in ids if key in checks}
    labels |= {key: name_jobs(compiled, (key,)) for key in ids if key in jobs}
    for branch in node.branches:
        causes = (*(one.cause for one in branch.leaves), *branch.rules_out)
        labels |= {cause: name_cause(compiled, cause) for cause in causes}
        if branch.node is not None:
            labels |= list_labels(branch.node, compiled)
    return labels


def render_mermaid(tree: TreeNode, compiled: CompiledCase) -> str:
    """Write the tree as a Mermaid flowchart, top to bottom."""
    boxes, edges = _list_parts(tree, compiled)
    lines = ["flowchart TD"]
    for name, kind, text in boxes:
        left, right = {"check": ("[", "]"), "job": ("[[", "]]")}.get(kind, ("([", "])"))
        lines.append(f'    {name}{left}"{write_mermaid_label(text, BOX_WIDTH)}"{right}')
    lines += [f'    {start} -->|"{write_mermaid_label(text, EDGE_WIDTH)}"| {end}' for start, end, text in edges]
    return "\n".join(lines)


def render_dot(tree: TreeNode, compiled: CompiledCase) -> str:
    """Write the tree in Graphviz's DOT language."""
    boxes, edges = _list_parts(tree, compiled)
    lines = [
        "digraph check_order {",
        '    node [fontname="sans-serif", fontsize=11];',
        '    edge [fontname="sans-serif", fontsize=9];',
    ]
    for name, kind, text in boxes:
        shape = {"check": "box", "job": "box3d"}.get(kind, "oval")
        lines.append(f'    {name} [shape={shape}, label="{write_dot_label(text, BOX_WIDTH)}"];')
    lines += [f'    {start} -> {end} [label="{write_dot_label(text, EDGE_WIDTH)}"];' for start, end, text in edges]
    return "\n".join([*lines, "}"])


def _list_parts(tree: TreeNode, compiled: CompiledCase) -> tuple[list[Box], list[Edge]]:
    """List boxes (name, kind, text) and edges (from, to, text), parents first."""
    parts = list(_walk(tree, compiled, "n", ""))
    boxes = [(name, kind, text) for name, kind, text, _ in parts]
    edges = [(name.rpartition("_")[0], name, label) for name, _, _, label in parts if "_" in name]
    return boxes, edges


def _walk(node: TreeNode, compiled: CompiledCase, name: str, label: str) -> Iterator[tuple[str, str, str, str]]:
    """Give every box: name (the box above it and a number), kind, text, and the answer that leads to it."""
    cut_off = is_cut_off(node)
    yield name, node.kind, say_node(node, compiled) + (", then ask again" if cut_off else ""), label
    for place, branch in enumerate(() if cut_off else node.branches, 1):
        below, said = f"{name}_{place}", say_branch(node, branch, compiled)
        if branch.node is None:
            yield below, "folded", "ask again", said.removesuffix(": ask again")
        else:
            yield from _walk(branch.node, compiled, below, said)


def write_mermaid_label(text: str, width: int) -> str:
    """Write a label between double quotes; what could end it, or be taken for markup, is named by its number.

    The lines are broken first, lest an entity be cut in two.
    """
    return "<br/>".join(_MARKUP.sub(lambda found: f"#{ord(found[0])};", line) for line in wrap_lines(text, width=width))


def write_dot_label(text: str, width: int) -> str:
    """Write a label between double quotes: of what stands there only quotes and backslashes mean something to DOT."""
    lines = wrap_lines(text, width=width)
    return "\\n".join(line.replace("\\", "\\\\").replace('"', '\\"') for line in lines)
