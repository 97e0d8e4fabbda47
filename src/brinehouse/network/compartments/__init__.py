"""The water of a plant as compartments: what each carries, where it settles, how it gets there, and a ledger."""
