"""Write the rules out for one unit: every template once per instance, every line with its numbers.

The result is plain and static: it depends on the knowledge and the unit sheet, not on a case.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from graphlib import TopologicalSorter

from msgspec import field

from shiftlore.basics import Mark
from shiftlore.basics.structs import Value
from shiftlore.gearing import Instance, UnitFacts
from shiftlore.knowledge import NAME_SLOT, Cause, Check, Finding, Job, Knowledge, Link, Scope, State, Strength

TORQUE_FLOOR = 0.4
"""Share of its strength that a line keeps in a gear in which the element carries next to nothing (judgement)."""

TOLD = ("owner", "history")
"""Ways to an answer that an owner or driver can tell: no measurement; all else only a check shows."""
REVERSE = "reverse"


class NodeLink(Value, frozen=True):
    """One parent's part in a child: a pmf over the child's grades for each fault grade of the parent.

    Args:
        parent: expanded id.
        rows: shape (parent grades, child grades) as tuples; row 0 is the sound one.
        weight: spread of the rows (Beta or Dirichlet concentration).
        mark: place of the first line that says so.
    """

    parent: str
    rows: tuple[tuple[float, ...], ...]
    weight: float
    mark: Mark


class ExpandedNode(Value, frozen=True):
    """An expanded state or finding with all that brings it about."""

    id: str
    template: str
    label: str
    grades: tuple[str, ...]
    leak: tuple[float, ...]
    leak_weight: float
    links: Sequence[NodeLink]
    mark: Mark


class ExpandedCause(Value, frozen=True):
    """A cause on this unit; `share` is its part of the template's base rate, before the vehicle's life."""

    id: str
    template: str
    label: str
    area: str
    share: float
    share_weight: float
    instance: str | None
    cause: Cause


class Expansion(Value, frozen=True, dict=True):
    """Everything the rules say about one unit.

    Args:
        causes, states, findings: by expanded id; states and findings are ordered parents first.
        finding_records: expanded id -> the finding as written, for its words and question.
        instances: each-kind -> the unit's instances.
        checks, jobs: those that apply to the unit; what checks are made for, and with what not, by expanded ids.
        reveals: check id -> expanded findings.
        cures: job id -> expanded cause -> strength.
        of_template: id as written -> expanded ids; renamed: an id that another stands for -> that other.
    """

    unit: str
    causes: Mapping[str, ExpandedCause]
    states: Mapping[str, ExpandedNode]
    findings: Mapping[str, ExpandedNode]
    finding_records: Mapping[str, Finding]
    state_records: Mapping[str, State]
    instances: Mapping[str, tuple[Instance, ...]]
    checks: Mapping[str, Check]
    jobs: Mapping[str, Job]
    job_templates: Mapping[str, str]
    reveals: Mapping[str, tuple[str, ...]]
    cures: Mapping[str, Mapping[str, Strength]]
    facts: UnitFacts
    of_template: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    renamed: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def denied(self) -> Mapping[str, Finding]:
        """The findings that others speak against."""
        return {key: one for key, one in self.finding_records.items() if one.denied_by}

    def name_answer(self, finding: str, grade: str) -> str:
        """Say an answer in words: `Fluid smells burnt: no`, `Fluid level: over full`."""
        return f"{self.findings[finding].label}: {self.finding_records[finding].grade_labels.get(grade, grade)}"

    def name_job(self, job: str) -> str:
        """Give the label of a job; a job per instance carries the instance's label."""
        record, template = self.jobs[job], self.job_templates[job]
        instances = self.instances.get(record.scope.each or "", ())
        instance = next((item for item in instances if job == expanded_id(template, item)), None)
        return record.label if instance is None else record.label.replace(NAME_SLOT, instance.label)


def applies_to_unit(scope: Scope, facts: UnitFacts) -> bool:
    """Tell whether a record stands on a unit: it may have all that is needed, and surely has nothing ruled out."""
    return set(scope.needs) <= facts.tags and not set(scope.not_with) & facts.sure_tags


def list_instances(scope: Scope, facts: UnitFacts) -> tuple[Instance | None, ...]:
    """List what a record expands over; a record without `each` gives a single None."""
    if scope.each is None:
        return (None,)
    return tuple(item for item in facts.instances(scope.each) if not scope.types or item.type in scope.types)


def expanded_id(template: str, instance: Instance | None) -> str:
    """Join a template id and an instance id: `ratio_code_gear` and `2` give `ratio_code_gear_2`."""
    return template if instance is None else f"{template}_{instance.id}"


def fill_name(text: str, instance: Instance | None) -> str:
    """Put the instance's label where the text says {name}; inside a sentence it begins small.

    Example:
        >>> fill_name("Worn linings in {name}", Instance("c1", "Forward clutch C1", "clutch"))
        'Worn linings in forward clutch C1'
    """
    if instance is None or NAME_SLOT not in text:
        return text
    label = instance.label
    starts_small = not text.startswith(NAME_SLOT) and label[1:2].islower()
    return text.replace(NAME_SLOT, label[0].lower() + label[1:] if starts_small else label)


def expand_knowledge(knowledge: Knowledge, facts: UnitFacts, *, lines: bool = True) -> Expansion:
    """Write out all rules for one unit.

    Args:
        knowledge: clean knowledge (no dangling ids).
        facts: what the unit sheet and its gear train say.
        lines: False leaves states and findings without links, where these are known already.
    """
    return _Expander(knowledge, facts).run(lines)


class _Expander:
    """Work in progress of one expansion."""

    def __init__(self, knowledge: Knowledge, facts: UnitFacts):
        self.knowledge = knowledge
        self.facts = facts
        self.of_template: dict[str, tuple[str, ...]] = {}
        self.scopes: dict[str, Scope] = {}
        self.lines: dict[str, dict[str, list[tuple[str | None, tuple[float, ...], float, Mark]]]] = {}
        self.grades: dict[str, tuple[str, ...]] = {}
        self.misreads = self._gather_misreads()
        self.renamed: dict[str, str] = {}
        self._passed: dict[tuple[int, int], Link]
        self._pmfs: dict[tuple[int, tuple[str, ...], float, float], tuple[tuple[float, ...], float]]
        self._passed, self._pmfs = knowledge.worked_out.setdefault(_Expander, ({}, {}))  # units share most lines
        self.follow: dict[str, list[tuple[Finding, Link]]] = {}
        for finding in knowledge.findings.values():
            for follow in finding.follows:
                self.follow.setdefault(follow.target, []).append((finding, follow))

    def run(self, lines: bool) -> Expansion:
        """Write everything out."""
        causes, states, findings = self._nodes_of("causes"), self._nodes_of("states"), self._nodes_of("findings")
        for parents in (causes, states) if lines else ():
            for parent_id, (record, instance) in parents.items():
                self._add_lines(parent_id, record, instance)
        checks, reveals = self._expand_checks()
        jobs, templates, cures = self._expand_jobs()
        return Expansion(
            unit=self.facts.id,
            causes=self._expand_causes(causes),
            states={key: self._finish(key, record, instance) for key, (record, instance) in states.items()},
            findings={key: self._finish(key, record, instance) for key, (record, instance) in findings.items()},
            finding_records={key: record for key, (record, _) in findings.items()},
            state_records={key: record for key, (record, _) in states.items()},
            instances=dict(self.facts.by_kind),
            checks=checks,
            jobs=jobs,
            job_templates=templates,
            reveals=reveals,
            cures=cures,
            facts=self.facts,
            of_template=self.of_template,
            renamed=self.renamed,
        )

    def _gather_misreads(self) -> dict[str, tuple[float, float]]:
        """Give each finding the misreadings of the surest check that reveals it.

        What an owner tells has no misreading of its own: the strengths already say "seen and reported".
        """
        best: dict[str, tuple[float, float]] = {}
        for check in self.knowledge.checks.values():
            if applies_to_unit(check.scope, self.facts):
                for finding in check.reveals:
                    if not self._is_told(finding):
                        pair = (check.missed, check.false_alarm)
                        best[finding] = min(best.get(finding, pair), pair, key=sum)
        return best

    def _is_told(self, finding: str) -> bool:
        """Tell whether a finding is had by asking."""
        record = self.knowledge.findings.get(finding)
        return record is not None and record.got_by in TOLD

    def _nodes_of(self, kind: str) -> dict:
        """List the expanded ids of one kind with their record and instance."""
        found = {}
        for record in getattr(self.knowledge, kind).values():
            if not applies_to_unit(record.scope, self.facts):
                continue
            instances = list_instances(record.scope, self.facts)
            ids = [expanded_id(record.id, instance) for instance in instances]
            if instead := getattr(record, "reverse_is", None):
                backward = (expanded_id(record.id, one) for one in instances if one and one.type == REVERSE)
                self.renamed |= dict.fromkeys(backward, instead)
            self.of_template[record.id] = tuple(dict.fromkeys(self.renamed.get(key, key) for key in ids))
            self.scopes[record.id] = record.scope
            for key, instance in zip(ids, instances, strict=True):
                if key in self.renamed:
                    continue
                found[key] = (record, instance)
                self.grades[key] = getattr(record, "grades", ("no", "yes"))
        return found

    def _add_lines(self, parent_id: str, record: Cause | State, instance: Instance | None) -> None:
        for link in record.leads_to:
            targets = self._targets(link, record, instance)
            for line, meant in ((link, targets), *self._followers(link, targets)):
                for name, share in meant:
                    child = self.renamed.get(name, name)
                    if child not in self.grades:
                        continue
                    pmf, weight = self._pmf(line, self.grades[child], share)
                    if pmf[0] < 1:
                        lines = self.lines.setdefault(child, {}).setdefault(parent_id, [])
                        lines.append((link.when, pmf, weight, link.mark))

    def _followers(
        self, link: Link, targets: list[tuple[str, float]]
    ) -> Iterator[tuple[Link, list[tuple[str, float]]]]:
        """Pass a line on to the findings that follow its target: to the same instance, to the one, or to any."""
        for finding, follow in self.follow.get(link.target, ()):
            each, whole = finding.scope.each, max((share for _, share in targets), default=0.0)
            if each is None:
                meant = [(finding.id, whole)]
            elif each == self.scopes[link.target].each:
                meant = [(finding.id + key.removeprefix(link.target), share) for key, share in targets]
            else:
                places = self.facts.resolve(follow.where, None, None, each)
                meant = [(f"{finding.id}_{place}", whole * share) for place, share in places]
            key = (id(link), id(follow))
            if key not in self._passed:
                self._passed[key] = pass_on(link, follow, finding)
            yield self._passed[key], meant

    def _targets(self, link: Link, record: Cause | State, instance: Instance | None) -> list[tuple[str, float]]:
        """List the expanded targets of a line and how surely each is meant."""
        if link.target not in self.scopes:
            return []
        each, scope = record.scope.each, self.scopes[link.target]
        where = link.where
        own = instance.id if instance else None
        if instance and where and where.startswith("type_"):
            if instance.type != where.removeprefix("type_"):
                return []
            where = None
        if scope.each is None:
            share = 1.0 if where in (None, "any") else self.facts.share_in(where, each, own)
            return [(link.target, share)] if share > 0 else []
        found = []
        for target_id, share in self.facts.resolve(where, each, own, scope.each):
            key = f"{link.target}_{target_id}"
            factor = share
            if link.by_torque and each == "element":
                factor *= TORQUE_FLOOR + (1 - TORQUE_FLOOR) * self.facts.torque_share.get((own or "", target_id), 1.0)
            if factor > 0:
                found.append((key, factor))
        return found

    def _pmf(self, link: Link, grades: tuple[str, ...], share: float) -> tuple[tuple[float, ...], float]:
        """Give the pmf over the child's grades that this line says, and its spread; the same for many instances."""
        missed, _ = self.misreads.get(link.target, (0.0, 0.0))
        key = (id(link), grades, share, missed)
        if key not in self._pmfs:
            told = {grades.index(grade): one for grade, one in link.strengths.items() if grade in grades}
            pmf = [0.0] * len(grades)
            for place, strength in told.items():
                pmf[place] += strength.p * share * (1 - missed)
            pmf[0] = max(0.0, 1 - sum(pmf[1:]))
            total, weight = sum(pmf), sum(one.weight for one in told.values()) / max(len(told), 1)
            self._pmfs[key] = (tuple(value / total for value in pmf), weight)
        return self._pmfs[key]

    def _finish(self, key: str, record: State | Finding, instance: Instance | None) -> ExpandedNode:
        leak, leak_weight = self._leak(record)
        links = tuple(
            self._join_lines(parent, lines, len(record.grades)) for parent, lines in self.lines.get(key, {}).items()
        )
        return ExpandedNode(
            key,
            record.id,
            fill_name(record.label, instance),
            grades=record.grades,
            leak=leak,
            leak_weight=leak_weight,
            links=links,
            mark=record.mark,
        )

    def _leak(self, record: State | Finding) -> tuple[tuple[float, ...], float]:
        """Give how the node shows with none of its parents, false alarms of its check included.

        The words of a template speak of all its instances together; each gets its part.
        """
        _, false_alarm = self.misreads.get(record.id, (0.0, 0.0))
        faults = record.grades[1:]
        part = 1 / max(len(self.of_template[record.id]), 1)
        pmf = [0.0] * len(record.grades)
        weights = []
        for grade, strength in record.unexplained.items():
            pmf[record.grades.index(grade)] += strength.p * part
            weights.append(strength.weight)
        for position in range(1, len(pmf)):
            pmf[position] += false_alarm * part / len(faults) * (1 - pmf[position])
        pmf[0] = max(0.0, 1 - sum(pmf[1:]))
        total = sum(pmf)
        return tuple(value / total for value in pmf), sum(weights) / max(len(weights), 1) or float("inf")

    def _join_lines(self, parent: str, lines: list, n_grades: int) -> NodeLink:
        """Join all lines from one parent to one child into one table, noisy-MAX wise within a grade."""
        sound, grades = (1.0,) + (0.0,) * (n_grades - 1), self.grades[parent]
        if len(lines) == 1 and len(grades) == 2:
            when, pmf, weight, mark = lines[0]
            return NodeLink(parent, (sound, pmf if when in (None, grades[1]) else sound), weight, mark)
        rows = [sound]
        for grade in grades[1:]:
            pmfs = [pmf for when, pmf, _, _ in lines if when in (None, grade)]
            rows.append(max_of_pmfs(pmfs, n_grades))
        weight = sum(line[2] for line in lines) / len(lines)
        return NodeLink(parent, tuple(rows), weight, lines[0][3])

    def _expand_causes(self, causes: Mapping) -> dict[str, ExpandedCause]:
        found = {}
        for key, (record, instance) in causes.items():
            siblings = max(len(self.of_template[record.id]), 1)
            found[key] = ExpandedCause(
                key,
                record.id,
                fill_name(record.label, instance),
                record.area,
                share=record.per_thousand.p / siblings,
                share_weight=record.per_thousand.p * record.per_thousand.weight,
                instance=instance.id if instance else None,
                cause=record,
            )
        return found

    def _expand_checks(self) -> tuple[dict[str, Check], dict[str, tuple[str, ...]]]:
        checks, reveals = {}, {}
        for check in self.knowledge.checks.values():
            found = tuple(key for one in check.reveals for key in self.of_template.get(one, ()))
            if found and applies_to_unit(check.scope, self.facts):
                unless = tuple(key for one in check.unless for key in self.of_template.get(one, ()))
                meant = tuple(key for one in check.made_for for key in self.of_template.get(one, (one,)))
                checks[check.id], reveals[check.id] = check.vary(unless=unless, made_for=meant), found
        return checks, reveals

    def _expand_jobs(self) -> tuple[dict[str, Job], dict[str, str], dict[str, dict[str, Strength]]]:
        jobs, templates, cures = {}, {}, {}
        for job in self.knowledge.jobs.values():
            if not applies_to_unit(job.scope, self.facts):
                continue
            for instance in list_instances(job.scope, self.facts):
                cured = self._cured_by(job, instance)
                if cured:
                    key = expanded_id(job.id, instance)
                    jobs[key], templates[key], cures[key] = job, job.id, cured
        return jobs, templates, cures

    def _cured_by(self, job: Job, instance: Instance | None) -> dict[str, Strength]:
        """List the expanded causes that a job and all within it put right; a job per instance cures only its own."""
        found: dict[str, Strength] = {}
        for record in (job, *(self.knowledge.jobs[key] for key in sorted(self.knowledge.jobs_within(job.id)))):
            for cure in record.cures:
                for key in self.of_template.get(cure.cause, ()):
                    same_each = instance is not None and self.scopes[cure.cause].each == record.scope.each
                    is_surer = key not in found or cure.strength.p > found[key].p
                    if is_surer and (not same_each or key == f"{cure.cause}_{instance.id}"):  # type: ignore[union-attr]
                        found[key] = cure.strength
        return found


def pass_on(link: Link, follow: Link, finding: Finding) -> Link:
    """Turn a line to one finding into the line to a finding that follows it: strengths multiply.

    A grade goes to the grade of the same name, else to the last; a follower that says ``yes`` follows every grade.
    """
    strengths: dict[str, Strength] = {}
    for grade, strength in link.strengths.items():
        share = follow.strengths.get(grade) or follow.strengths.get("yes")
        if share is not None:
            to = grade if grade in finding.grades else finding.grades[-1]
            before = strengths[to].p if to in strengths else 0.0
            strengths[to] = Strength(min(before + strength.p * share.p, 1.0), min(strength.weight, share.weight))
    return link.vary(target=finding.id, strengths=strengths)


def max_of_pmfs(pmfs: list[tuple[float, ...]], n_grades: int) -> tuple[float, ...]:
    """Give the pmf of the strongest of several independent contributions.

    Source: Diez 1993, noisy-MAX: cumulative distributions multiply.
    Example:
        >>> max_of_pmfs([(0.5, 0.5), (0.5, 0.5)], 2)
        (0.25, 0.75)
    """
    if len(pmfs) == 1:
        return pmfs[0]
    cumulative = [1.0] * n_grades
    for pmf in pmfs:
        total = 0.0
        for position in range(n_grades - 1):
            total += pmf[position]
            cumulative[position] *= total
    return tuple(cumulative[i] - (cumulative[i - 1] if i else 0.0) for i in range(n_grades))


SMALLEST_PATH = 1e-4
"""A path weaker than this is left out: it is below anything that a strength word can tell apart (judgement)."""

Rows = tuple[tuple[float, ...], ...]


def flatten_states(states: Mapping[str, ExpandedNode]) -> dict[str, ExpandedNode]:
    """Give every state links from causes only.

    Args:
        states: expanded states; their links may come from causes and states, without cycles.
    """
    graph = {key: [link.parent for link in node.links if link.parent in states] for key, node in states.items()}
    flat: dict[str, ExpandedNode] = {}
    for key in TopologicalSorter(graph).static_order():
        flat[key] = flatten_node(states[key], flat)
    return {key: flat[key] for key in states}


def flatten_node(node: ExpandedNode, flat: Mapping[str, ExpandedNode]) -> ExpandedNode:
    """Replace each link from a state by the paths that lead to that state.

    Args:
        flat: states with links from causes only.
    """
    size = len(node.grades)
    paths: dict[str, list[NodeLink]] = {}
    leak = node.leak
    for link in node.links:
        if link.parent not in flat:
            paths.setdefault(link.parent, []).append(link)
            continue
        above = flat[link.parent]
        leak = max_of_pmfs([leak, _through(above.leak, link.rows)], size)
        strongest = 1 - min(row[0] for row in link.rows)
        for upper in above.links:
            if (1 - min(row[0] for row in upper.rows)) * strongest < SMALLEST_PATH / 2:
                continue  # most paths are far too weak, and need not be worked out to be left out
            rows = tuple(_through(row, link.rows) for row in upper.rows)
            if max(1 - row[0] for row in rows) >= SMALLEST_PATH:
                weight = min(upper.weight, link.weight)
                paths.setdefault(upper.parent, []).append(NodeLink(upper.parent, rows, weight, link.mark))
    return node.vary(leak=leak, links=tuple(_join(links, size) for links in paths.values()))


def _through(pmf: tuple[float, ...], rows: Rows) -> tuple[float, ...]:
    """Pass a pmf over a parent's grades on through a link."""
    if len(pmf) == 2:
        sound, fault = pmf
        return rows[0] if sound == 1.0 else tuple(sound * p + fault * q for p, q in zip(*rows, strict=True))
    return tuple(sum(p * row[grade] for p, row in zip(pmf, rows, strict=True)) for grade in range(len(rows[0])))


def _join(links: list[NodeLink], size: int) -> NodeLink:
    """Join several paths from one cause: the strongest contribution shows."""
    if len(links) == 1:
        return links[0]
    rows = tuple(max_of_pmfs([link.rows[grade] for link in links], size) for grade in range(len(links[0].rows)))
    return NodeLink(links[0].parent, rows, min(link.weight for link in links), links[0].mark)
