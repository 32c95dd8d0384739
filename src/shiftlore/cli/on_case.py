"""`shiftlore rank`, `next` and `options`: what is asked of a case: the causes, the next steps, what to offer the owner."""

import datetime
from collections.abc import Collection
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import UnknownId, nearest

if TYPE_CHECKING:
    from shiftlore.advising import NextSteps, Options
    from shiftlore.cases import Case
    from shiftlore.compiling import CompiledCase
    from shiftlore.knowledge import Knowledge, Shop


@click.command("rank", short_help="Rank the causes of a case.")
@common.case_options
@click.option("--audit", is_flag=True, help="Recompute the leading causes with pgmpy and tell the largest difference.")
@click.option("--rules-alone", is_flag=True, help="Leave out what published repairs have taught beside the rules.")
@click.option(
    "--overlay", type=common.A_PATH, metavar="FILE", help="Lay numbers that cases have taught over the rules."
)
@click.option("--all", "show_all", is_flag=True, help="Show every cause, not only the leading ones.")
def rank_command(
    case_path: str, form: str, plain: bool, folder: Path | None, timing: bool, audit: bool, rules_alone: bool,
    overlay: Path | None, show_all: bool,
) -> None:  # fmt: skip
    """Rank the causes of CASE (a file, or - for standard input): what it may be, and what speaks for and against."""
    from shiftlore.reports.case_text import SHOWN_CAUSES, render_ranking

    if audit:
        common.require_library("pgmpy", "--audit")
    knowledge = common.load_trade(folder, overlay=overlay)
    knowledge = knowledge.with_rules_alone() if rules_alone else knowledge
    case = common.read_case_file(case_path, knowledge)
    own = {Path(case_path).stem}  # a case that was entered from a published repair carries its name
    ranking = shiftlore.rank(knowledge, case, audit=audit, remembered=common.recall_cases(), leave_out=own)
    count = len(ranking.causes) if show_all else SHOWN_CAUSES
    render = partial(render_ranking, ranking, case.odometer_km, n_causes=count)
    common.show(form, ranking, render, plain, ranking.seconds if timing else None)


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
    from shiftlore.reports.next_text import render_next

    knowledge = common.load_trade(folder, shop_path)
    case = common.read_case_file(case_path, knowledge)
    shop = change_shop(knowledge, labour, without)
    case = change_case(knowledge, case, access, budget)
    with common.busy("Working out the check order" if tree else "Working out the next steps") as tell:
        plan = shiftlore.next_steps(
            knowledge, case, depth if tree else 0, p_fold=fold / PERCENT, shop=shop, tell_done=tell
        )
    if tree and form != "json":
        common.tell_time(plan.seconds, timing)
        _print_tree(plan, plan.compiled, tree_format, plain)
        return
    render = partial(render_next, plan, plan.compiled, count=count)
    common.show(form, plan, render, plain, plan.seconds if timing else None)


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
        shop = shop.vary(labour_per_hour=gross, invented=tuple(it for it in shop.invented if it != "labour"))
    for tool in without:
        _check_known("tool", tool, known_tools(knowledge))
    at_hand, borrowed = (
        tuple(tool for tool in tools if tool not in without) for tools in (shop.tools, shop.tools_borrowed)
    )
    return shop.vary(tools=at_hand, tools_borrowed=borrowed)


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
        same = (step for step in plan.steps if step.together == tree.ids)
        first = next((step.cost.total + step.expected_total_after for step in same), None)
        text = render_tree(tree, compiled, money, width=width, boxes=is_coloured, strong=strong, listed=first)
        common.show_pages(text)
    else:
        click.echo({"mermaid": render_mermaid, "dot": render_dot}[form](tree, compiled))


BUDGET_HELP = "What the owner will spend; the case's own by default."
JOB_HELP = 'Price this job too, whatever its chance, such as "fluid change"; may be given again.'
LANGUAGE_HELP = "Language of the page, such as en or de; the shop's own by default."
PAGES = "FILE.html|FILE.pdf"

complete_jobs = common.complete_ids("jobs")


@click.command("options", short_help="Say what to offer the owner, and print the page for it.")
@common.case_options
@click.option("--budget", type=common.BUDGET, help=BUDGET_HELP)
@click.option("--page", "--sheet", "path", type=common.A_PATH, metavar=PAGES, help="Write the page for the owner here.")
@click.option("--job", "jobs", multiple=True, metavar="ID|WORDS", help=JOB_HELP, shell_complete=complete_jobs)
@click.option("--language", help=LANGUAGE_HELP)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Paper of the page.")
@click.option("--date", "day", type=common.DAY, help="Date of the page; today by default.")
@common.shop_option
@common.force_option
def options_command(
    case_path: str, form: str, plain: bool, folder: Path | None, timing: bool, budget: float | None, path: Path | None,
    jobs: tuple[str, ...], language: str | None, paper: str | None, day: datetime.datetime | None, shop_path: Path |
    None, force: bool,
) -> None:  # fmt: skip
    """Say what to offer the owner of CASE (a file, or - for standard input): price, chance, and what comes after."""
    from shiftlore.reports.case_text import render_options

    if path is not None:
        common.require_place(path, force=force, ending=".html|.htm|.pdf")
    knowledge = common.load_trade(folder, shop_path)
    case = common.read_case_file(case_path, knowledge)
    with common.busy("Working out the options"):
        offered = shiftlore.options(knowledge, case, budget, jobs)
    if path is not None:
        assert knowledge.shop is not None, "options need a shop, and say so"
        date = day.date() if day else datetime.date.today()
        _write_page(offered, knowledge.shop, path, force, folder=folder, language=language, paper=paper, date=date)
    if path is None or form == "json":
        common.show(form, offered, partial(render_options, offered), plain, offered.seconds if timing else None)
    else:
        common.tell_time(offered.seconds, timing)


def _write_page(
    offered: "Options",
    shop: "Shop",
    path: Path,
    force: bool,
    *,
    folder: Path | None,
    language: str | None,
    paper: str | None,
    date: datetime.date,
) -> None:
    """Write the page, whole or not at all; what was strange goes to standard error."""
    from shiftlore.knowledge import find_knowledge
    from shiftlore.reports.page_files import print_pdf, read_logo
    from shiftlore.reports.page_html import PageSettings, choose_paper, render_page
    from shiftlore.words import load_phrases

    folder = folder or find_knowledge()
    try:
        phrases = load_phrases(language or shop.locale, folder)
    except UnknownId as error:
        if language:
            raise
        click.echo(f"{error} The page is in English.", err=True)
        phrases = load_phrases("en", folder)
    logo, trouble = read_logo(shop.logo, folder)
    if trouble:
        click.echo(trouble, err=True)
    page = render_page(offered, phrases, PageSettings(shop, date, paper or choose_paper(shop.locale), logo))
    content = print_pdf(page) if path.suffix.lower() == ".pdf" else page.encode("utf-8")
    common.save_output(path, content, force)
    click.echo(f"The page stands in {path}.", err=True)
