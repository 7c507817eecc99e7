"""What a visit must hold true, one rule a file. Each takes a draft and yields every fault."""
