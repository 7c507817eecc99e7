"""From the visits of the months that changed to sums, and from sums to whatever is asked."""
