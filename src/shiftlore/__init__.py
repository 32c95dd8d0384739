"""Shiftlore: what is most likely wrong with an automatic transmission, and what to check next.

The front door: every command of the command line is a thin shell over one of these functions. Each loads what it needs
when it is first used, so importing the package costs nothing. A unit is compiled once for a knowledge and kept with it.
Records and errors come from their rooms: `shiftlore.cases.Case`, `shiftlore.basics.ShiftloreError`.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from shiftlore.version import __version__ as __version__

if TYPE_CHECKING:
    from shiftlore.advising import Explanation, NextSteps, Options
    from shiftlore.basics import Problem
    from shiftlore.casebook import Casebook, Closing, EndTold
    from shiftlore.cases import Case
    from shiftlore.compiling import CompiledCase
    from shiftlore.driving import Drive
    from shiftlore.fleet import FleetRun, Progress
    from shiftlore.gearing import UnitDescription
    from shiftlore.knowledge import Knowledge, OwnShop, Shop
    from shiftlore.practising import Round
    from shiftlore.ranking import Ranking, Review
    from shiftlore.repairs import Learning, Remembered, Scores
    from shiftlore.sessions import Interview
    from shiftlore.sheets import UnitSheet
    from shiftlore.simulating import Simulation, Visit
    from shiftlore.tracing import Trace
    from shiftlore.words import Hit

__all__ = [
    "close", "describe_unit", "explain", "find", "interview", "learn", "load", "next_steps", "open_casebook",
    "options", "practise", "rank", "rank_fleet", "read_case", "schema", "score_repairs", "shop", "simulate", "simulate_drive",
    "to_pgmpy", "trace", "validate",
]  # fmt: skip


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)


def load(
    path: Path | str | None = None, own_shop: Path | str | None = None, overlay: Path | str | None = None
) -> "Knowledge":
    """Load the rules of the trade.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
        own_shop: a shop's own file (`shiftlore shop`), whose prices then stand for the examples; None takes the examples.
        overlay: numbers that cases have taught (`shiftlore learn`), laid over the rules; None takes those that the shop's
            file names, or the rules as written.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    from shiftlore.knowledge import load_knowledge

    knowledge = load_knowledge(path)
    if own_shop is not None:
        from shiftlore.knowledge import OVERLAY, lay_over, read_own_shop

        own = read_own_shop(Path(own_shop), knowledge)
        knowledge = lay_over(knowledge, own)
        if overlay is None and own.settings.get(OVERLAY):
            overlay = own.file_at(own.settings[OVERLAY])
    if overlay is not None:
        from shiftlore.compiling import read_overlay, with_overlay

        knowledge = with_overlay(knowledge, read_overlay(Path(overlay), knowledge))
    return knowledge


def shop(knowledge: "Knowledge", path: Path | str, changes: Mapping[str, str] | None = None) -> "OwnShop":
    """Read a shop's own file, or set something in it: rate, tax, currency, prices, name, logo, own unit sheets.

    Args:
        knowledge: the rules as they came, without that file.
        changes: key, or entry of the price book -> what to set it to; "" takes it back.
    Raises: KnowledgeError, UsageProblem: what cannot be, and what to write instead; the file is then as it was.
    """
    from shiftlore.knowledge import change_own_shop, read_own_shop

    own = read_own_shop(Path(path), knowledge)
    return change_own_shop(own, knowledge, changes) if changes else own


def read_case(source: Path | str, knowledge: "Knowledge | None" = None, name: Path | str | None = None) -> "Case":
    """Read one vehicle's case, or tell everything that is wrong with it.

    Args:
        source: a YAML or JSON file, or its text.
        knowledge: what the case may speak of; None takes the rules that came with the program.
        name: what problems call a text; a path if it was taken from there.
    Raises: CaseError: carries every problem, each with its place and what to write instead. KnowledgeError: the same of an
        own unit sheet that the case names.
    """
    import shiftlore.cases as room
    from shiftlore.compiling import list_known

    return room.read_case(source, list_known(knowledge or load(), room.peek_vehicle(source, name)), name)


def _compile(knowledge: "Knowledge", case: "Case") -> "CompiledCase":
    from shiftlore.compiling import compile_case, compile_unit

    return compile_case(compile_unit(knowledge, case.vehicle), case)


def rank(
    knowledge: "Knowledge",
    case: "Case",
    audit: bool = False,
    *,
    remembered: "Sequence[Remembered]" = (),
    leave_out: Collection[str] = (),
) -> "Ranking":
    """Rank the causes of a case, most probable first, with what speaks for and against each, and what looked alike.

    Args:
        audit: recompute with pgmpy and tell the largest difference.
        remembered: earlier cases of the shop, which are named before published repairs.
        leave_out: ids of remembered cases that are not to be named: those of the case itself.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    from shiftlore.ranking import rank_causes
    from shiftlore.repairs import find_alike

    compiled = _compile(knowledge, case)
    ranking = rank_causes(compiled, audit=audit)
    own = (case.outcome.id,) if case.outcome is not None else ()
    return ranking.vary(alike=find_alike(compiled, ranking, remembered, (*leave_out, *own)))


def next_steps(
    knowledge: "Knowledge",
    case: "Case",
    tree_depth: int = 0,
    *,
    p_fold: float = 0.03,
    shop: "Shop | None" = None,
    tell_done: "Callable[[float], None] | None" = None,
) -> "NextSteps":
    """Say which check or job comes next, best first, with what it costs and what it saves.

    Args:
        tree_depth: also grow the whole check order, so many steps deep.
        p_fold: places of that order which are reached more rarely are folded, 0 to 1.
        shop: another shop than the knowledge's own: dearer labour, fewer tools.
        tell_done: called as that order grows, with how far it is, 0 to 1.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    from shiftlore.advising import next_steps as choose

    return choose(_compile(knowledge, case), shop, tree_depth=tree_depth, p_fold=p_fold, tell_done=tell_done)


def options(knowledge: "Knowledge", case: "Case", budget: float | None = None, jobs: Collection[str] = ()) -> "Options":
    """Say what to offer the owner: jobs with their price and their chance of curing the complaint.

    Args:
        budget: what the owner will spend, in the shop's currency; None takes the case's own.
        jobs: jobs that are priced too, whatever their chance: ids, or plain words such as "fluid change".
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash. UnknownId: no such job is done.
    """
    from shiftlore.advising import name_asked, offer_options
    from shiftlore.words import find_named

    known = {*(compiled := _compile(knowledge, case)).expansion.jobs, *compiled.expansion.job_templates.values()}

    def name_job(words: str) -> str:
        is_id = "_" in words or words in known
        return words if is_id else name_asked(compiled, words, *find_named(knowledge, words, "job", known))

    return offer_options(compiled, budget=budget, asked=[*map(name_job, jobs)])


def interview(knowledge: "Knowledge", case: "Case | None" = None) -> "Interview":
    """Begin an interview about one vehicle, or go on with a case; without one it begins with the question for the unit."""
    from shiftlore.cases import Case
    from shiftlore.sessions import Interview

    return Interview(knowledge, case or Case(""))


def describe_unit(
    knowledge: "Knowledge | None",
    unit: "str | UnitSheet",
    lost: Sequence[str] = (),
    stuck: Sequence[str] = (),
    ratio: float | None = None,
) -> "UnitDescription":
    """Work out a unit: ratios, who holds what in which gear, torques, and what a fault feels like.

    Args:
        knowledge: whose sheets are meant; None takes the rules that came with the program.
        unit: id of a unit sheet, or a sheet that was read by itself.
        lost: elements that hold nothing.
        stuck: solenoids, as `solenoid=on` or `solenoid=off`; with neither, every fault is worked out.
        ratio: a measured ratio of input to output speed that is to be explained.
    Raises: UnknownId: no sheet carries the id; names the nearest.
    """
    from shiftlore.gearing import describe_unit as describe

    return describe((knowledge or load()).sheet_of(unit) if isinstance(unit, str) else unit, lost, stuck, ratio)


def find(knowledge: "Knowledge", words: str, most: int = 12, kinds: Collection[str] | None = None) -> "list[Hit]":
    """Find the findings, checks, causes, jobs and codes that plain words speak of, best first; only of `kinds` if given."""
    from shiftlore.words import find_by_words

    return find_by_words(knowledge, words, most, kinds)


def explain(knowledge: "Knowledge", what: str, unit: str | None = None) -> "Explanation":
    """Explain a cause, finding, check or job in full: what it is, is mistaken for, shows, costs, and the rules behind it.

    Args:
        what: an id, a trouble code, or plain words.
        unit: id of a unit sheet; None takes the kind that leaves most open.
    Raises: UnknownId: nothing is called so, or not on this unit; names the nearest.
    """
    from dataclasses import replace

    from shiftlore.advising import explain_record
    from shiftlore.basics import UnknownId
    from shiftlore.words import pick_meant

    try:
        return explain_record(knowledge, what, unit)
    except UnknownId:
        hits = pick_meant(knowledge, what, find(knowledge, what, kinds=("cause", "finding", "check", "job", "code")))
        if not hits:
            raise
        told = explain_record(knowledge, hits[0].id, unit)
        return replace(told, also=tuple((hit.kind, hit.id) for hit in hits[1:]))


def trace(
    knowledge: "Knowledge",
    log: Path | str,
    unit: str | None = None,
    columns: Sequence[str] = (),
    into: "Path | None" = None,
) -> "Trace":
    """Say what a road-test log shows: gears really had, slip, shifts, converter clutch, signals, each with its figure.

    Args:
        unit: id of a unit sheet; None takes the case's, or finds it by the ratios.
        columns: what a column is, as `engine_rpm=COLUMN` or `engine_rpm=COLUMN:UNIT`; the others are guessed.
        into: file of a case, to which the answers are added; what it says already stays.
    Raises: UsageProblem, UnknownId: the log cannot be used, or a unit or column is none; says what to do.
    """
    from shiftlore.tracing import trace_into, trace_log

    traced = trace_log if into is None else trace_into(into)
    return traced(knowledge, Path(log), unit, columns)


def simulate_drive(knowledge: "Knowledge", unit: str, faults: Sequence[str] = (), seed: int = 1) -> "Drive":
    """Simulate a road test of a unit, sound or with faults: what a recorder would have written.

    Args:
        unit: id of a unit sheet, or the path of one's own.
        faults: such as `slip:c1:0.8`.
    Raises: UsageProblem: it has no gear train to drive, or there is no such fault. UnknownId: no sheet carries the id.
    """
    import shiftlore.driving as room
    from shiftlore.basics import UsageProblem

    sheet = knowledge.sheet_of(unit)
    if sheet.kind_only:
        raise UsageProblem(f"{unit} is a kind and has no gear train. Name a unit: shiftlore find --list shows them.")
    return room.simulate_drive(sheet, defects=[room.read_defect(text, sheet) for text in faults], seed=seed)


def simulate(
    knowledge: "Knowledge",
    unit: str,
    vehicles: int = 100,
    seed: int = 1,
    *,
    policies: Collection[str] | None = None,
    visits: int = 0,
    tell_done: Callable[[int], None] | None = None,
) -> "Simulation":
    """Put vehicles that are drawn by chance from the knowledge through several ways of working.

    Args:
        unit: id of a unit sheet.
        policies: names of the ways of working; None takes all.
        visits: so many of the vehicles are told act by act, as the first of the ways of working.
        tell_done: called with the number of vehicles done, after each.
    Raises: UnknownId: no sheet carries the id; names the nearest.
    """
    from dataclasses import replace

    from shiftlore.compiling import compile_unit
    from shiftlore.simulating import simulate_unit, watch_visits

    told: list[Visit] = []
    compiled, watch = compile_unit(knowledge, unit), watch_visits(told, visits)
    result = simulate_unit(compiled, vehicles, seed, only=policies, tell_done=tell_done, watch=watch)
    return replace(result, visits=tuple(told))


def practise(knowledge: "Knowledge", unit: str, level: int = 1, seed: int = 1, area: str = "") -> "Round":
    """Begin a round of practice on a made-up vehicle with a hidden cause; equal arguments give equal vehicles.

    Args:
        unit: id of a unit sheet, or a kind.
        level: 1 to 4, from fluid and codes to anything.
        area: area of the hidden cause; "" takes any.
    Raises: UsageProblem: there is no such vehicle, and what to ask for instead. UnknownId: no sheet carries the id.
    """
    from shiftlore.practising import Wish, begin_round, draw_exercise

    return begin_round(draw_exercise(knowledge, Wish(unit, level, seed, area)))


def validate(path: Path | str | None = None, quick: bool = False) -> "tuple[Review | None, list[Problem]]":
    """Tell every problem of a knowledge folder, a unit sheet or a case.

    Args:
        path: a folder or a file; None takes the knowledge that came with the program.
        quick: only read and check a folder; leave its textbook cases out.
    Returns: counts and textbook results of a folder without errors, else None; and the problems, warnings included.
    """
    if path is not None and not Path(path).is_dir():
        from shiftlore.ranking import review_file

        return None, review_file(Path(path), load)
    from shiftlore.knowledge import collect_knowledge

    knowledge, problems = collect_knowledge(path)
    if quick or any(problem.severity == "error" for problem in problems):
        return None, problems
    from shiftlore.ranking import review_knowledge

    return review_knowledge(knowledge), problems


def learn(
    knowledge: "Knowledge",
    paths: Iterable[Path | str],
    tell_done: Callable[[float], None] = lambda share: None,
    *,
    casebook: "Casebook | None" = None,
    tell_set_aside: Callable[[str, str], None] = lambda entry_id, why: None,
    jobs: int = 1,
    scheduler: str = "",
) -> "Learning":
    """Learn base rates and strengths from vehicles of which it is known, or half known, what they had.

    Args:
        paths: case files, folders of them, or folders of published repairs.
        tell_done: called with how far it is at most, 0 to 1.
        casebook: closed cases to learn from too; one whose file is among the paths counts once.
        tell_set_aside: called with the id of each case of the casebook that today's rules cannot read, and why.
        jobs, scheduler: who counts the vehicles, as of `rank_fleet`; the numbers are the same for any of them.
    Raises: CaseError, KnowledgeError: every problem of what is read, each with its place and what to write instead.
    """
    from shiftlore.repairs import gather_confirmed, learn_numbers

    vehicles = gather_confirmed(knowledge, map(Path, paths))
    if casebook is not None:
        from shiftlore.casebook import gather_lessons

        by_file = {one.case.outcome.id for one in vehicles if one.case.outcome is not None}
        lesson = gather_lessons(knowledge, casebook.each_entry(), by_file)
        vehicles += lesson.vehicles
        for entry_id, why in lesson.set_aside:
            tell_set_aside(entry_id, why)
    if jobs == 1 and not scheduler:
        return learn_numbers(knowledge, vehicles, tell_done=tell_done)
    from shiftlore.fleet import open_workers

    with open_workers(knowledge, jobs, scheduler) as spread:
        return learn_numbers(knowledge, vehicles, tell_done=tell_done, spread=spread)


def open_casebook(place: Path | str | None = None) -> "Casebook":
    """Open the casebook, a context manager: closed cases, and rounds of practice.

    Args:
        place: a file, or the address of a PostgreSQL; None takes the shop's setting, or the user's own data folder.
    Raises: CasebookError: it cannot be used; says why and what to do.
    """
    from shiftlore.casebook import open_casebook as open_it

    return open_it(place)


def close(
    knowledge: "Knowledge",
    path: Path | str,
    told: "EndTold",
    casebook: "Casebook",
    *,
    person: str = "",
    with_words: bool = False,
) -> "Closing":
    """Close a case: what it was and what came of it, into its file and into the casebook. A second time amends it.

    Args:
        told: what is told of its end; what is not told is taken from the file.
        person: whose vehicle it is; kept only if it is given.
        with_words: keep the case's free words too, which may hold names.
    Raises: CaseError: every problem of the case. UsageProblem: what is told does not go together. ShiftloreError: another
        session has the file open; or it was filed as another vehicle's, or forgotten.
    """
    from shiftlore.casebook import close_file

    return close_file(knowledge, Path(path), told, casebook, person=person, with_words=with_words)


def rank_fleet(
    knowledge: "Knowledge",
    source: "Path | str | BinaryIO",
    target: Path | str,
    *,
    jobs: int | None = 1,
    scheduler: str = "",
    count: int = 10,
    chunk_rows: int = 500,
    force: bool = False,
    tell: "Callable[[Progress], None]" = lambda progress: None,
) -> "FleetRun":
    """Rank many cases at once, from a file of rows to a file of rows; a run that was stopped goes on where it was.

    Args:
        source: a file of JSON Lines (one case a line) or Parquet (keys of a case as columns), or a stream of JSON Lines.
        target: .jsonl or .parquet; rows that are no case go into a file of this name with `.refused.jsonl` behind it.
        jobs: processes of this machine, None for one a processor; more than 1 needs a script that can be imported.
        scheduler: address of a Dask scheduler, whose workers are taken instead.
        count: causes that are written for each row.
        chunk_rows: rows that are worked on in one go, and lost at most where a run is killed.
        force: whether files that are there may be overwritten.
        tell: called after each chunk with how far it is.
    Raises: UsageProblem: a place that will not do. ShiftloreError: the input cannot be read, or the output not be written.
    """
    from shiftlore.fleet import run_fleet

    return run_fleet(
        knowledge,
        Path(source) if isinstance(source, str) else source,
        Path(target),
        jobs=jobs,
        scheduler=scheduler,
        count=count,
        chunk_rows=chunk_rows,
        force=force,
        tell=tell,
    )


def score_repairs(
    knowledge: "Knowledge", folder: Path | str, tell_done: Callable[[int, int], None] = lambda done, count: None
) -> "Scores":
    """Rank published repairs, and tell how often what it was comes first, and what spoke against it where it does not.

    Args:
        folder: lists of repairs, *.yaml; beside them in `entered` the cases that somebody entered by hand.
        tell_done: called with how many are done and how many there are, after each.
    Raises: KnowledgeError: carries every problem of the lists, each with its place and what to write instead.
    """
    import shiftlore.repairs as room

    repairs = room.read_repairs(Path(folder), knowledge)
    return room.score_repairs(knowledge, repairs, lambda done: tell_done(done, len(repairs)))


def schema(name: str) -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of a file or of what a command prints as JSON.

    Args:
        name: one of `shiftlore.reports.schemas.NAMES`, such as `case` or `rank`.
    Raises: UnknownId: nothing is called so.
    """
    from shiftlore.reports.file_schemas import find_schema

    return find_schema(name)


def to_pgmpy(knowledge: "Knowledge", unit: str) -> Any:
    """Hand a unit's network to pgmpy, so that anyone can check or reuse it; the root variable is `fault`.

    The priors are those of a vehicle of which neither distance nor background is known.
    Args:
        unit: id of a unit sheet.
    Returns: a `pgmpy.models.DiscreteBayesianNetwork`.
    Raises: UnknownId: no sheet carries the id; names the nearest.
    """
    from shiftlore.cases import Case
    from shiftlore.compiling import compile_beforehand, compile_unit
    from shiftlore.compiling import to_pgmpy as export

    return export(compile_beforehand(compile_unit(knowledge, unit), Case(unit)).network)
