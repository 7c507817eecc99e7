"""Pure: figures as plain JSON for Plotly, each with the same numbers as a table and in words."""
