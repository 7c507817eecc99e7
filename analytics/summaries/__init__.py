"""The figures of one tester, irrigator or clinic: what was measured, and how it compares."""
