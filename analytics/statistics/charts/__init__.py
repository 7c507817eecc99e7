"""Control charts: each takes a frozen baseline and says how firm its limits are.

``individuals`` (X and moving range), ``subgroups`` (X-bar and S), ``attributes`` (p, c, u, and
Laney's p' and u'), ``ewma`` and ``cusum``; ``run_rules`` reads the points of any of them.
"""
