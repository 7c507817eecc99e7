"""The tests; a package, since another distribution may bring a folder of the same name."""
