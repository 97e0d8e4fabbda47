"""The loop profile of a hall: its facility, stations and readings made into data that a face can draw."""

from __future__ import annotations

from brinehouse.network.profile import parts

Profile, Reach, Stop, Line, Dot = parts.Profile, parts.Reach, parts.Stop, parts.Line, parts.Dot
Station, Member, Animals = parts.Station, parts.Member, parts.Animals
Excess, Height, Return, Missing = parts.Excess, parts.Height, parts.Return, parts.Missing
GRAVITY = parts.GRAVITY
