"""What the network looks like: reads what the registry wrote, and is never imported by it."""
