"""Pieces of a sweep that cost nothing, for tests of whoever works and keeps them."""

import json
import os
import pathlib
import time

import numpy as np


def piece(data, begin, end):
    """Numbers that tell which samples they are; on the way it waits, writes who it is, or dies, as told."""
    told = json.loads(data)
    if "log" in told:
        with pathlib.Path(told["log"]).open("a") as page:
            page.write(f"{os.getpid()} {begin}\n")
    time.sleep(told.get("wait", 0.0))
    if "dies" in told and begin == told.get("at", begin):
        fate = pathlib.Path(told["dies"])
        if told.get("always") or not fate.exists():
            fate.touch()
            os._exit(9)
    at = np.arange(begin, end, dtype=np.float64)[:, None]
    return np.where(at % 7 == 3, np.inf, np.hstack([np.sqrt(at + 1.0), np.exp(-at / 9.0)]))
