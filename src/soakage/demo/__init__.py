"""An invented plant with known hidden causes: records to try the program on, and to hold it against."""
