"""Routers of pages: they answer with sheets, not with schemas."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response


def router() -> APIRouter:
    """A router whose routes stand in no API description and answer with what they return."""
    return APIRouter(include_in_schema=False, default_response_class=Response)
