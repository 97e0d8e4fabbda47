"""The carbonate system from alkalinity and pH over a million rows, beside PyCO2SYS, in one process.

Target: ours takes at most a thirtieth of the time for a row. The peer is given fewer of the same rows, for it
would take a minute and gigabytes; both times are for a row. Its buffer factors are switched off. Ours gives
carbon, gas, bicarbonate, carbonate, pressure and both saturation states. The turns alternate, and the best of
each is compared.
"""

from __future__ import annotations

import time
import warnings

import numpy as np

from brinehouse.science import carbonate

ROWS = 1_000_000
PEER_ROWS = 50_000
TURNS = 3
TARGET = 1.0 / 30.0  # ours over theirs for a row, at most


def _waters(rows: int) -> tuple[np.ndarray, ...]:
    chance = np.random.default_rng(20261125)
    return (
        chance.uniform(1500.0, 3500.0, rows), chance.uniform(7.4, 8.6, rows),
        chance.uniform(5.0, 32.0, rows), chance.uniform(20.0, 40.0, rows),
    )  # fmt: skip


def _peer(alkalinity, ph, temperature, salinity):
    import PyCO2SYS

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return PyCO2SYS.sys(
            par1=alkalinity, par2=ph, par1_type=1, par2_type=3, temperature=temperature, salinity=salinity,
            opt_k_carbonic=10, opt_k_bisulfate=1, opt_total_borate=2, opt_k_fluoride=1, opt_gas_constant=3,
            opt_buffers_mode=0,
        )  # fmt: skip


def _agree(mine, theirs, count: int) -> None:
    for ours, name in (
        (mine.carbon, "dic"), (mine.co2, "aqueous_CO2"), (mine.carbonate, "carbonate"),
        (mine.omega_aragonite, "saturation_aragonite"),
    ):  # fmt: skip
        np.testing.assert_allclose(ours[:count], theirs[name], rtol=1e-9)


def run(rows: int = ROWS, peer_rows: int = PEER_ROWS, turns: int = TURNS) -> dict[str, object]:
    """Time both and say how they compare; refuses to compare speeds where the values differ."""
    waters = _waters(rows)
    few = tuple(column[:peer_rows] for column in waters)
    _peer(*(column[:10] for column in waters))  # its import and first call are not counted
    ours, peer = [], []
    for _ in range(turns):
        start = time.perf_counter()
        mine = carbonate.from_ph(*waters)
        ours.append(time.perf_counter() - start)
        start = time.perf_counter()
        theirs = _peer(*few)
        peer.append(time.perf_counter() - start)
        _agree(mine, theirs, min(rows, peer_rows))
        del mine, theirs
    ratio = (min(ours) / rows) / (min(peer) / peer_rows)
    return {
        "name": f"carbonate from alkalinity and pH, {rows:,} rows, against PyCO2SYS for a row",
        "ratio": ratio,
        "target": TARGET,
        "times_faster": 1.0 / ratio,
        "ours_seconds": min(ours),
        "peer_seconds_for_as_many": min(peer) / peer_rows * rows,
        "peer_rows": peer_rows,
        "all_ours_seconds": ours,
        "all_peer_seconds": peer,
    }


if __name__ == "__main__":
    for word, value in run().items():
        print(f"{word}: {value}")
