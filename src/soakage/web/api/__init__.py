"""The HTTP API, one file for each thing: a file that declares ``ROUTER`` is served and described."""
