"""After a check out of tolerance: which tests it may have touched, and what was decided on each."""
