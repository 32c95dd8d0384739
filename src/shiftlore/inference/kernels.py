"""The arithmetic of noisy gates on whole arrays: products, maxima, and their derivatives, never a subtraction.

An array has one axis per node of the structure, and a last axis of rows (many sets of answers at once; it stands last
so that the inner loops of numpy run over contiguous memory). The axis of a gate holds either

- F ("fired"): entry a is the weight of "the strongest contribution of the parents seen so far is exactly a"; two such
  arrays of the same gate join by the distribution of a maximum, out[c] = sum over max(a, b) = c of F1[a] F2[b];
- R ("required"): entry a is the value of what is still to come if the strongest contribution so far is a; R meets F
  by out[a] = sum over b of R[max(a, b)] F[b].

The two are each other's derivative, so a forward and a backward sweep need nothing else. All numbers stay
non-negative, therefore no digits are lost when the evidence is very improbable.
Source: parent divorcing, Olesen et al. 1989; the product of cumulatives, Diez 1993; the derivative view of
propagation, Darwiche 2003, "A differential approach to inference in Bayesian networks".
"""

from collections.abc import Mapping

import numpy as np

from shiftlore.network import FloatArray

GateAxes = tuple[tuple[int, str], ...]
"""Axes that need more than a product: (position, kind), kind FF, RF (first is R) or FR (second is R)."""

GRADIENT_FIRST = {"FF": "RF", "RF": "FF", "FR": "FR"}
"""Kind with which the outer derivative meets the second array, to give the derivative by the first."""

GRADIENT_SECOND = {"FF": "RF", "RF": "FR", "FR": "FF"}
"""Kind with which the outer derivative meets the first array, to give the derivative by the second."""


def _at(position: int, index: int | slice) -> tuple[int | slice, ...]:
    """Index one axis and take all of the axes before it."""
    return (slice(None),) * position + (index,)


BLOCK_ENTRIES = 1 << 13
"""Arrays larger than this are joined slice by slice, smaller ones in one vectorised step; measured."""


def _join_sliced(out: FloatArray, first: FloatArray, second: FloatArray, axes: GateAxes) -> None:
    """Join along the outermost yes/no gate axis by slices, and so on inwards, into `out`."""
    if not axes:
        np.multiply(first, second, out=out)
        return
    position, kind = axes[0]
    if first.shape[position] != 2 or (out.size < BLOCK_ENTRIES and len(axes) > 1):
        out[...] = _join_spread(first, second, axes)
        return
    if kind == "FR":
        first, second = second, first
        axes = tuple((place, other[::-1]) for place, other in axes)
    inner = axes[1:]
    no, yes = _at(position, slice(0, 1)), _at(position, slice(1, 2))
    _join_sliced(out[no], first[no], second[no], inner)
    _join_sliced(out[yes], first[yes], second[no] + second[yes], inner)
    target, source = (yes, no) if kind == "FF" else (no, yes)
    rest = np.empty(out[target].shape)
    _join_sliced(rest, first[source], second[yes], inner)
    out[target] += rest


def _spread(array: FloatArray, position: int, role: str) -> FloatArray:
    """Lay out one axis of K entries as the 2K - 1 factors of a join.

    Args:
        role: F, the contributions that set the maximum, then what lies below them; R, the values, then those of the
            states above; C, the cumulated contributions, then the single ones.
    """
    size = array.shape[position]
    above, below = _at(position, slice(1, None)), _at(position, slice(None, size - 1))
    if role == "R":
        return np.concatenate([array, array[above]], axis=position)
    cumulated = _cumulate(array, position)
    parts = [array, cumulated[below]] if role == "F" else [cumulated, array[above]]
    return np.concatenate(parts, axis=position)


def _cumulate(array: FloatArray, position: int) -> FloatArray:
    """Add up along one axis; whole slices at a time, which is many times faster here than `numpy.cumsum`."""
    cumulated = array.copy()
    for state in range(1, array.shape[position]):
        cumulated[_at(position, state)] += cumulated[_at(position, state - 1)]
    return cumulated


def _gather(products: FloatArray, position: int, kind: str) -> FloatArray:
    """Add the 2K - 1 products of one axis up to its K entries."""
    size = (products.shape[position] + 1) // 2
    gathered = products[_at(position, slice(None, size))].copy()
    single = products[_at(position, slice(size, None))]
    if kind == "FF":
        gathered[_at(position, slice(1, None))] += single
        return gathered
    backwards = _at(position, slice(None, None, -1))
    gathered[_at(position, slice(None, size - 1))] += _cumulate(single[backwards], position)[backwards]
    return gathered


_ROLES = {"FF": ("F", "C"), "RF": ("R", "C"), "FR": ("C", "R")}


def join(first: FloatArray, second: FloatArray, axes: GateAxes) -> FloatArray:
    """Join two arrays: a product on plain axes, a maximum on the axes of gates that both carry.

    Args:
        first, second: broadcastable against each other; both have the full size on every axis in `axes`.
        axes: gate axes that both arrays carry.
    Returns: array over the union of the axes.
    """
    if not axes:
        return first * second
    joined = np.empty(np.broadcast_shapes(first.shape, second.shape))
    _join_sliced(joined, first, second, axes)
    return joined


def _join_spread(first: FloatArray, second: FloatArray, axes: GateAxes) -> FloatArray:
    """Join along all gate axes at once, by spreading each out to the 2K - 1 factors of a maximum."""
    for position, kind in axes:
        role_first, role_second = _ROLES[kind]
        first, second = _spread(first, position, role_first), _spread(second, position, role_second)
    joined = first * second
    for position, kind in axes:
        joined = _gather(joined, position, kind)
    return joined


def join_gradient(
    gradient: FloatArray, other: FloatArray, axes: GateAxes, kinds: Mapping[str, str], summed: tuple[int, ...]
) -> FloatArray:
    """Work out how the result changes with one of the two joined arrays.

    Args:
        gradient: derivative by the joined array.
        other: the array with which it was joined.
        axes: as they were given to `join`.
        kinds: GRADIENT_FIRST or GRADIENT_SECOND.
        summed: axes that the array does not carry.
    """
    if not axes and summed:
        return _multiply_and_sum(gradient, other, summed)
    product = join(gradient, other, tuple((position, kinds[kind]) for position, kind in axes))
    return product.sum(axis=summed, keepdims=True) if summed else product


def _multiply_and_sum(first: FloatArray, second: FloatArray, summed: tuple[int, ...]) -> FloatArray:
    """Multiply two arrays and add up some axes, without writing the product where that can be helped."""
    axis = summed[0]
    if len(summed) > 1 or first.shape[axis] != 2 or second.shape[axis] != 2:
        return (first * second).sum(axis=summed, keepdims=True)
    no, yes = _at(axis, slice(0, 1)), _at(axis, slice(1, 2))
    total = first[no] * second[no]
    total += first[yes] * second[yes]
    return total
