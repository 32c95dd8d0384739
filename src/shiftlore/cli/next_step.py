"""`shiftlore next`: the next checks or jobs, best first, or the whole check order; with "what if" options."""

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import UnknownId, nearest

if TYPE_CHECKING:
    from shiftlore.advising import NextSteps
    from shiftlore.cases import Case
    from shiftlore.compiling import CompiledCase
    from shiftlore.knowledge import Knowledge, Shop

TREE_FORMATS = ["text", "json", "mermaid", "dot"]
FOLD_PERCENT = 6.0
"""Places of the tree that are reached more rarely are folded: what is left hangs on a wall (judgement)."""
PERCENT = 100
NEAREST_SHOWN = 5
FOLD_HELP = "Fold what is reached more rarely than this; a smaller number gives a bigger tree and takes longer."
OPEN_HELP = "What is open on the vehicle now, such as pan_off."
DEPTH_HELP = "At most so many steps on any way down the tree."


@click.command("next", short_help="Say what to do next, what it costs, and when to stop.")
@common.case_options
@click.option("--steps", "count", type=common.Whole(1, 12), default=5, metavar="N", help="Show so many steps.")
@click.option("--tree", is_flag=True, help="Print the whole check order as a tree, to hang on the wall.")
@click.option("--tree-format", type=click.Choice(TREE_FORMATS), default="text", help="How to write the tree.")
@click.option("--depth", type=common.Whole(1, 6), default=4, metavar="N", help=DEPTH_HELP)
@click.option(
    "--fold", type=common.Number(0.5, 100, example=3), default=FOLD_PERCENT, metavar="PERCENT", help=FOLD_HELP
)
@click.option("--labour", type=common.RATE, metavar="RATE", help="What if an hour of labour cost this?")
@click.option("--without", multiple=True, metavar="TOOL", help="What if this tool were missing? May be given again.")
@click.option("--budget", type=common.BUDGET, metavar="MONEY", help="What if the owner spends no more than this?")
@click.option("--open", "access", metavar="ACCESS", shell_complete=common.complete_ids("access"), help=OPEN_HELP)
@common.shop_option
def next_command(
    case_path: str, form: str, plain: bool, folder: Path | None, timing: bool, count: int, tree: bool, tree_format: str,
    depth: int, fold: float, labour: float | None, without: tuple[str, ...], budget: float | None, access: str | None,
    shop_path: Path | None,
) -> None:  # fmt: skip
    """Say what to do next on CASE (a file, or - for standard input): checks and jobs, best first, with their cost.

    Best is what the owner is expected to pay least for in the end, wrong guesses counted in. It also says when to stop
    checking. The "what if" options change nothing in the case file.
    """
    from shiftlore.compiling import compile_case, compile_unit
    from shiftlore.reports.next_text import render_next

    knowledge = common.load_trade(folder, shop_path)
    case = common.read_case_file(case_path, knowledge)
    shop = change_shop(knowledge, labour, without)
    case = change_case(knowledge, case, access, budget)
    with common.busy("Working out the check order" if tree else "Working out the next steps") as tell:
        plan = shiftlore.next_steps(
            knowledge, case, depth if tree else 0, p_fold=fold / PERCENT, shop=shop, tell_done=tell
        )
    if form == "json":
        common.write_json(plan, timing)
        return
    common.tell_time(plan.seconds, timing)
    compiled = compile_case(compile_unit(knowledge, case.vehicle), case)
    if tree:
        _print_tree(plan, compiled, tree_format, plain)
    else:
        common.show_pages(
            render_next(plan, compiled, common.terminal_width(), strong=common.strong_mark(plain), count=count)
        )


def change_shop(knowledge: "Knowledge", labour: float | None, without: Collection[str]) -> "Shop | None":
    """Give the shop that is asked about: dearer, or without some tools.

    Args:
        labour: an hour without the tax.
    Raises: UnknownId: a tool that nothing uses.
    """
    from shiftlore.knowledge import known_tools

    shop = knowledge.shop
    if shop is None or (labour is None and not without):
        return shop
    if labour is not None:
        gross = labour * (1.0 + shop.tax_percent / PERCENT)
        shop = replace(shop, labour_per_hour=gross, invented=tuple(it for it in shop.invented if it != "labour"))
    for tool in without:
        _check_known("tool", tool, known_tools(knowledge))
    at_hand, borrowed = (
        tuple(tool for tool in tools if tool not in without) for tools in (shop.tools, shop.tools_borrowed)
    )
    return replace(shop, tools=at_hand, tools_borrowed=borrowed)


def change_case(knowledge: "Knowledge", case: "Case", access: str | None, budget: float | None) -> "Case":
    """Give the case with another state of disassembly or budget.

    Raises: UnknownId: a state of disassembly that is not known.
    """
    if access is not None:
        case = replace(case, access=_check_known("state of disassembly", access, knowledge.access))
    return case if budget is None else replace(case, budget=budget)


def _check_known(kind: str, word: str, known: Collection[str]) -> str:
    if word not in known:
        near = nearest(word, known, NEAREST_SHOWN)
        advice = f"Nearest: {', '.join(near)}." if near else f"Write one of: {', '.join(sorted(known))}."
        raise UnknownId(f'There is no {kind} "{word}". {advice}')
    return word


def _print_tree(plan: "NextSteps", compiled: "CompiledCase", form: str, plain: bool) -> None:
    """Print the tree in the format asked for."""
    from shiftlore.reports.next_text import list_labels, render_dot, render_mermaid, render_tree

    tree, money = plan.tree, plan.currency
    assert tree is not None, "a tree was asked for"
    if form == "json":
        common.write_json({"currency": money, "tree": tree, "labels": list_labels(tree, compiled)})
    elif form == "text":
        width, is_coloured, strong = common.terminal_width(), common.wants_colour(plain), common.strong_mark(plain)
        common.show_pages(render_tree(tree, compiled, money, width=width, boxes=is_coloured, strong=strong))
    else:
        click.echo({"mermaid": render_mermaid, "dot": render_dot}[form](tree, compiled))
