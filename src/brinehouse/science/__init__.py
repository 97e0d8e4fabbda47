"""Relations of water, gas and heat: functions of arrays, each with its unit, range and source."""
