"""The demo brought up: embedded server and broker, the invented network loaded, accounts, web."""
