"""A network evaluated up to a month: its parameters, its signals, and every subject's figures."""
