"""What may be read, by whom and in which form. Nothing here writes."""
