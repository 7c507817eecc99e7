"""Pure: has a tester changed, does a tester differ: signals from monthly sums, replayed in order."""
