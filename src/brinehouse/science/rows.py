"""Formulas over many rows, in blocks that stay in the processor's cache."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

SIZE = 16384  # rows a block: five columns of it are 640 KiB, which fits the second cache of common processors


def run(
    formula: Callable[..., object], *arguments: ArrayLike, spare: int = 0, size: int = SIZE
) -> NDArray[np.float64]:
    """Fill an array by a formula that works in place on one block of rows after another.

    Parameters
    ----------
    formula : callable
        Called as ``formula(*blocks, out, *spares)``: equal-length float columns to read, one to fill,
        and `spare` scratch columns. It must not write into what it reads.
    *arguments : array_like
        Inputs, broadcast against one another without being copied whole.
    spare : int
        How many scratch columns the formula needs.
    size : int
        Rows in a block.

    Returns
    -------
    ndarray
        Results in the broadcast shape of the inputs; scalars give an array without dimensions.
    """
    reads: list[Literal["readonly", "writeonly", "allocate"]] = ["readonly"]
    fills: list[Literal["readonly", "writeonly", "allocate"]] = ["writeonly", "allocate"]
    columns = [np.asarray(argument, dtype=np.float64) for argument in arguments]
    scratch = np.empty((spare, size))
    walk = np.nditer(
        [*columns, None],
        flags=["external_loop", "buffered", "zerosize_ok"],
        op_flags=[reads] * len(columns) + [fills],
        op_dtypes=[np.float64] * (len(columns) + 1),
        buffersize=size,
    )
    with walk, np.errstate(invalid="ignore", divide="ignore", over="ignore", under="ignore"):
        if walk.itersize:
            for blocks in walk:
                formula(*blocks, *scratch[:, : blocks[-1].size])
        return walk.operands[-1]


def in_blocks(
    function: Callable[..., ArrayLike], *arguments: ArrayLike, size: int = SIZE
) -> NDArray[np.float64]:
    """Call a broadcasting function block by block, so that its temporaries stay in the cache.

    Parameters
    ----------
    function : callable
        Any function of this floor that answers row by row.
    *arguments : array_like
        Its positional arguments, broadcast against one another.
    size : int
        Rows in a block.

    Returns
    -------
    ndarray
        What ``function(*arguments)`` gives.

    Examples
    --------
    >>> in_blocks(np.hypot, [3.0, 6.0], [[4.0], [8.0]]).shape
    (2, 2)
    """

    def fill(*blocks: NDArray[np.float64]) -> None:
        blocks[-1][...] = function(*blocks[:-1])

    return run(fill, *arguments, size=size)


def many(
    function: Callable[..., Sequence[ArrayLike]], *arguments: ArrayLike, results: int, size: int = SIZE
) -> tuple[NDArray[np.float64], ...]:
    """Call a function that gives several columns, block by block.

    Parameters
    ----------
    function : callable
        Any function that answers row by row with `results` columns.
    *arguments : array_like
        Its positional arguments, broadcast against one another.
    results : int
        How many columns it gives.
    size : int
        Rows in a block.

    Returns
    -------
    tuple of ndarray
        The columns, each in the broadcast shape of the inputs.

    Examples
    --------
    >>> many(np.divmod, [7.0, 9.0], 4.0, results=2)
    (array([1., 2.]), array([3., 1.]))
    """
    reads: list[Literal["readonly", "writeonly", "allocate"]] = ["readonly"]
    fills: list[Literal["readonly", "writeonly", "allocate"]] = ["writeonly", "allocate"]
    columns = [np.asarray(argument, dtype=np.float64) for argument in arguments]
    walk = np.nditer(
        [*columns, *[None] * results],
        flags=["external_loop", "buffered", "zerosize_ok"],
        op_flags=[reads] * len(columns) + [fills] * results,
        op_dtypes=[np.float64] * (len(columns) + results),
        buffersize=size,
    )
    with walk, np.errstate(invalid="ignore", divide="ignore", over="ignore", under="ignore"):
        if walk.itersize:
            for blocks in walk:
                answers = function(*blocks[: len(columns)])
                for column, answer in zip(blocks[len(columns) :], answers, strict=True):
                    column[...] = answer
        return tuple(walk.operands[len(columns) :])


def polynomial(
    variable: NDArray[np.float64], coefficients: Sequence[float], out: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Horner's form in place: c0 + c1 x + c2 x² and so on.

    Parameters
    ----------
    variable : ndarray
        The variable x; it is not changed.
    coefficients : sequence of float
        Constant term first; two at least.
    out : ndarray
        Filled and returned; not the same memory as `variable`.

    Returns
    -------
    ndarray
        The column `out`.

    Examples
    --------
    >>> x = np.array([0.0, 2.0])
    >>> polynomial(x, (1.0, 3.0, 5.0), np.empty(2)).tolist()
    [1.0, 27.0]
    """
    np.multiply(variable, coefficients[-1], out=out)
    for coefficient in coefficients[-2:0:-1]:
        out += coefficient
        out *= variable
    out += coefficients[0]
    return out
