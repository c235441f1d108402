"""The pages and the HTTP API: parse, call, show."""
