"""The pages, one file each: a file that declares ``ROUTER`` is on the house, and nowhere else named."""
