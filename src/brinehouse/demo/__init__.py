"""Highmoor Sea Hall, an invented facility, and the seeded generator of ninety days of its history."""
