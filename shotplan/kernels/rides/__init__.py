"""Over many rides and places: least by metre, runs, shares, routes."""
