"""What a plant's pressure side is made of: nodes with or without a fixed head, and links between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from brinehouse import findings

Kind = Literal["pipe", "pump", "valve", "loss", "hazen"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A place where pipes meet.

    Attributes
    ----------
    head : float or None
        A fixed head: a water surface, or an open end. None for a junction. [m]
    elevation : float
        Of the pipe there; an outlet that stands above a fixed head runs dry. [m]
    demand : float
        Water taken out there. [m³/s]
    """

    id: str
    head: float | None = None
    elevation: float | None = None
    demand: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Water's way from one node to another; head falls along its flow, or rises through a pump.

    Attributes
    ----------
    kind : str
        ``pipe`` (length, diameter, roughness, and `loss` for its fittings), ``pump`` (curve, speed),
        ``valve`` (diameter, `loss` when open, `share_open`), ``loss`` (a machine: `points` of flow and head
        lost, or diameter and `loss`), ``hazen`` (length, diameter, `smoothness`: published networks only).
    check : bool
        Whether water can only pass from source to target. A pump never lets water back.
    open : bool
        False for a shut valve, or a pump that stands still.
    length, diameter, roughness : float
        [m]
    loss : float
        Sum of loss coefficients. [-]
    curve : tuple of (flow, head)
        Of a pump. [m³/s], [m]
    speed : float
        Of a pump, over that of its curve. [-]
    share_open : float
        Of a valve: its opening's area over that of the open valve, 0 to 1. [-]
    points : tuple of (flow, head lost)
        Of a machine; between points and beyond them head goes with the square of flow. [m³/s], [m]
    """

    id: str
    source: str
    target: str
    kind: Kind = "pipe"
    check: bool = False
    open: bool = True
    length: float = 0.0
    diameter: float = 0.1
    roughness: float = 1e-5
    loss: float = 0.0
    curve: tuple[tuple[float, float], ...] = ()
    speed: float = 1.0
    share_open: float = 1.0
    points: tuple[tuple[float, float], ...] = ()
    smoothness: float = 130.0

    @property
    def shut(self) -> bool:
        """Whether no water can pass at all."""
        standing = self.kind == "pump" and self.speed <= 0.0
        return not self.open or standing or (self.kind == "valve" and self.share_open <= 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Heads and flows that belong together.

    Attributes
    ----------
    heads : mapping
        Node to head; a node that no open way joins to a fixed head is absent. [m]
    flows : mapping
        Link to flow, positive from source to target. [m³/s]
    states : mapping
        Link to ``open``, ``shut``, ``held`` (a check valve or pump holds water back) or ``cut off``.
    iterations : int
    converged : bool
    lost : float
        The largest gap of any junction's balance: what rounding makes of "no water is lost". [m³/s]
    """

    heads: Mapping[str, float]
    flows: Mapping[str, float]
    states: Mapping[str, str]
    iterations: int = 0
    converged: bool = True
    lost: float = 0.0
    findings: Sequence[findings.Finding] = field(default_factory=list[findings.Finding])
