"""What is required: criteria, temperature rules and tables kept as data, and how they judge."""
