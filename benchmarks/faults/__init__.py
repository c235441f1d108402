"""Kill at random moments: nothing acknowledged is lost, nothing half-written appears, a restart needs no repair."""
