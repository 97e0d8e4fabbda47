"""Highmoor Sea Hall, an invented facility, and the seeded generator that writes ninety days of its history."""
