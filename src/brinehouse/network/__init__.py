"""The plant as equations: pressures and flows, what the water carries, steady, in time, and in what-ifs."""
