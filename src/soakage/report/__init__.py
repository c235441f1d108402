"""Reports and cards: what they say, apart from how each paper or page lays it out."""
