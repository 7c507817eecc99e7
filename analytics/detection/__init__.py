"""Pure: from monthly sums to what has changed or differs, and is more than chance."""
