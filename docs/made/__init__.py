"""What the pages that are made from the house are made with."""
