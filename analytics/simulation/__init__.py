"""Pure: invented networks with known faults, to measure what the engine finds and how early."""
