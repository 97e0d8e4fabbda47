"""The loop profile as plain data: the way of the water, heights, static head, gas line."""
