"""One question each: model and records in, an answer that says how sure it is out."""
