"""The check order as a graph in two open text formats: Mermaid flowcharts and Graphviz DOT."""

from collections.abc import Iterator

from shiftlore.compiling import CompiledCase
from shiftlore.planning import TreeNode
from shiftlore.reports.tree_text import is_cut_off, say_branch, say_node
from shiftlore.reports.wording import wrap_lines

BOX_WIDTH = 34
EDGE_WIDTH = 26

Box = tuple[str, str, str]
Edge = tuple[str, str, str]


def render_mermaid(tree: TreeNode, compiled: CompiledCase) -> str:
    """Write the tree as a Mermaid flowchart, top to bottom."""
    boxes, edges = _list_parts(tree, compiled)
    lines = ["flowchart TD"]
    for name, kind, text in boxes:
        left, right = {"check": ("[", "]"), "job": ("[[", "]]")}.get(kind, ("([", "])"))
        lines.append(f'    {name}{left}"{_mermaid(text, BOX_WIDTH)}"{right}')
    lines += [f'    {start} -->|"{_mermaid(text, EDGE_WIDTH)}"| {end}' for start, end, text in edges]
    return "\n".join(lines)


def render_dot(tree: TreeNode, compiled: CompiledCase) -> str:
    """Write the tree in Graphviz's DOT language."""
    boxes, edges = _list_parts(tree, compiled)
    lines = ["digraph check_order {", '    node [fontname="sans-serif", fontsize=11];',
             '    edge [fontname="sans-serif", fontsize=9];']
    for name, kind, text in boxes:
        shape = {"check": "box", "job": "box3d"}.get(kind, "oval")
        lines.append(f'    {name} [shape={shape}, label="{_dot(text, BOX_WIDTH)}"];')
    lines += [f'    {start} -> {end} [label="{_dot(text, EDGE_WIDTH)}"];' for start, end, text in edges]
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


def _mermaid(text: str, width: int) -> str:
    safe = text.replace("#", "#35;").replace('"', "#quot;").replace("<", "#lt;").replace(">", "#gt;").replace("`", "'")
    return "<br/>".join(wrap_lines(safe, width=width))


def _dot(text: str, width: int) -> str:
    return "\\n".join(wrap_lines(text.replace("\\", "\\\\").replace('"', '\\"'), width=width))
